/* JSON after RFC 8259 as the tree of text/yaml.h. Private to text/. Looser in three things: a comma may stand before a
 * closing bracket, any bare word is a value (NaN), and names may repeat. A scalar's place is its text without quotes
 * and blanks around it: node_place is not for these. */
#ifndef KEYWAY_TEXT_JSON_H
#define KEYWAY_TEXT_JSON_H

#include "text/yaml.h"

/* NULL when refused (problem added). The tree lives in `scratch`; its texts in `arena`, or in the source's bytes, which
 * must be UTF-8. Nesting and number of values have the limits of YAML. */
const struct node *json_read(struct arena *arena, struct arena *scratch, const struct source *source,
                             struct problems *problems);

#endif
