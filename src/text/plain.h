/* The YAML that nearly every file is written in, read at a tenth of libyaml's cost. Private to text/ (and its test). */
#ifndef KEYWAY_TEXT_PLAIN_H
#define KEYWAY_TEXT_PLAIN_H

#include "text/yaml.h"

/* The tree of bytes that are known to be sound UTF-8, `skip` of them being a byte order mark. NULL when anything in
 * them is not plainly of that kind, or wrong, or over a limit: then libyaml has to look. */
const struct node *plain_read(struct arena *arena, const struct source *source, size_t skip);

#endif
