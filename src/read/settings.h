/* Reads Keyway's own settings file: YAML, one dictionary name a key (DESIGN: "Settings file"). Included by cli/ and
 * tests. */
#ifndef KEYWAY_READ_SETTINGS_H
#define KEYWAY_READ_SETTINGS_H

#include "model/subject.h"
#include "text/yaml.h"

/* NULL when anything was refused: all problems of the file are added, not just the first. Unsorted axes and values out
 * of range are not problems. The result lives in `arena`. */
const struct settings *settings_read(struct arena *arena, const struct vocabulary *vocabulary,
                                     const struct source *source, struct problems *problems);

/* The same from a map of names alone, without the keyway-settings line: the fragments in a rule's cases. */
const struct settings *settings_from_node(struct arena *arena, const struct vocabulary *vocabulary,
                                          const struct source *source, const struct node *map,
                                          struct problems *problems);

#endif
