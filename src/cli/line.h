/* The command line: commands and options by the rows of command.def and option.def. Included by cli/. */
#ifndef KEYWAY_CLI_LINE_H
#define KEYWAY_CLI_LINE_H

#include "base/problem.h"

#define COMMAND_MANY ((size_t)-1)

enum command_id {
#define COMMAND(id, name, arguments, least, most, about) COMMAND_##id,
#include "cli/command.def"
#undef COMMAND
  COMMAND_COUNT
};

struct command {
  const char *name, *arguments; /* arguments: "SETTINGS...", NULL: none */
  size_t least, most;
  const char *about;
};
extern const struct command line_commands[COMMAND_COUNT];

enum option_id {
#define OPTION(id, name, argument, commands, repeat, help) OPTION_##id,
#include "cli/option.def"
#undef OPTION
  OPTION_COUNT
};

struct option {
  const char *name, *argument; /* argument: "FILE", NULL: a plain switch */
  unsigned commands;           /* bit i: command i takes it */
  bool repeat;
  const char *help;
};
extern const struct option line_options[OPTION_COUNT];

struct line_given { /* an option, in the order of the command line */
  enum option_id id;
  const char *value; /* NULL for a plain switch */
};

struct line {
  bool version; /* nothing but --version was asked for */
  enum command_id command;
  size_t given_count;
  const struct line_given *given;
  size_t argument_count;
  const char *const *arguments;
};

/* false when something is wrong: every mistake is added as a problem of usage. Strings are those of argv. With --help
 * the command becomes `help` with the command as its argument. */
bool line_read(struct arena *arena, int argc, char *const *argv, struct line *out, struct problems *problems);

/* The value of the last time an option was given, NULL when it was not; "" for a plain switch. */
const char *line_value(const struct line *line, enum option_id id);

/* All values of an option in their order; *count may be 0. */
const char *const *line_values(struct arena *arena, const struct line *line, enum option_id id, size_t *count);

/* A command by name, COMMAND_COUNT when there is none; then a problem with a hint is added. */
enum command_id line_command(const char *name, struct problems *problems);

#endif
