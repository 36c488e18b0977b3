/* Writes settings as Keyway's own file: stable order, so that reading and writing again gives the same bytes. Included
 * by cli/ and tests. */
#ifndef KEYWAY_READ_SETTINGS_WRITE_H
#define KEYWAY_READ_SETTINGS_WRITE_H

#include "model/subject.h"

#include <stdio.h>

/* Values in the units that they were written in, with as many digits as are needed to read back the same numbers;
 * entries in the vocabulary's order. Nothing about where they came from: converting the result again gives the same
 * bytes. Write errors are left to the caller (ferror). */
void settings_write(FILE *out, const struct vocabulary *vocabulary, const struct settings *settings);

/* "10 deg", "-0.5", as short as reads back the same base value. Lives in `arena`. Also for `draft` and `sheet`. */
const char *settings_write_number(struct arena *arena, double base, const struct unit *unit, bool bare);
/* A YAML scalar: plain where that is safe, else in double quotes. Lives in `arena`. */
const char *settings_write_text(struct arena *arena, struct slice text);

#endif
