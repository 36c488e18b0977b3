/* The commands, and what one run of the program has at hand. Included by cli/. */
#ifndef KEYWAY_CLI_COMMAND_H
#define KEYWAY_CLI_COMMAND_H

#include "base/source.h"
#include "cli/line.h"
#include "cli/status.h"

#include <stdio.h>

struct run {
  struct arena *arena; /* lives as long as the program */
  struct sources *sources;
};

/* The whole program; argv as main has it. Returns the exit status. */
int command_run(int argc, char *const *argv);

/* Problems to standard error; returns the status of the worst class among them. */
enum status command_refuse(struct run *run, const struct problems *problems);

enum status audit_command(struct run *run, const struct line *line);
enum status log_command(struct run *run, const struct line *line);
enum status explain_command(struct run *run, const struct line *line);
enum status list_command(struct run *run, const struct line *line);
enum status convert_command(struct run *run, const struct line *line);
enum status help_command(struct run *run, const struct line *line);

#endif
