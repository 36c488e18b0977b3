/* keyway draft: a first adapter for an unseen export or log. Included by cli/. */
#ifndef KEYWAY_CLI_DRAFT_H
#define KEYWAY_CLI_DRAFT_H

#include "cli/command.h"

enum status draft_command(struct run *run, const struct line *line);

#endif
