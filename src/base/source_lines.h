/* Private to base/: where the lines of a source start. */
#ifndef KEYWAY_BASE_SOURCE_LINES_H
#define KEYWAY_BASE_SOURCE_LINES_H

#include "base/source.h"

/* Empty: sources_position fills it. */
struct source_lines *source_lines_new(struct arena *arena);

#endif
