/* Private to base/: a source whose lines can be filled in. */
#ifndef KEYWAY_BASE_SOURCE_LINES_H
#define KEYWAY_BASE_SOURCE_LINES_H

#include "base/source.h"

/* NULL when unknown. */
struct source *sources_item(struct sources *sources, uint32_t id);

#endif
