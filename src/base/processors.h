/* How many threads are worth starting. Any room may include this. */
#ifndef KEYWAY_BASE_PROCESSORS_H
#define KEYWAY_BASE_PROCESSORS_H

#include <stddef.h>

/* As many as this machine runs at a time, at least 1 and at most 8: more only wait for memory. */
size_t processors_count(void);

#endif
