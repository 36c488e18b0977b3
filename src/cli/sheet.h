/* keyway sheet: an empty job sheet with the questions that a settings file raises. Included by cli/. */
#ifndef KEYWAY_CLI_SHEET_H
#define KEYWAY_CLI_SHEET_H

#include "cli/command.h"

enum status sheet_command(struct run *run, const struct line *line);

#endif
