/* Writes settings as Keyway's own file: stable order, so that reading and writing again gives the same bytes. Included
 * by cli/. */
#ifndef KEYWAY_READ_SETTINGS_WRITE_H
#define KEYWAY_READ_SETTINGS_WRITE_H

#include "model/subject.h"

#include <stdio.h>

/* Values in the units that they were written in, with as many digits as are needed to read back the same numbers;
 * entries in the vocabulary's order. `origin` for a comment line: the export's name. */
void settings_write(FILE *out, const struct vocabulary *vocabulary, const struct settings *settings,
                    struct slice origin);

#endif
