/* Help, made from the rows of command.def and option.def. */
#include "cli/command.h"

#include "report/wrap.h"

#define HELP_INDENT 4

static void option_print(const struct run *run, const struct option *option)
{
  const char *argument = option->argument != NULL ? option->argument : "";
  const char *name = arena_print(run->arena, "  --%s%s%s%s\n", option->name, argument[0] != '\0' ? " " : "", argument,
                                 option->repeat ? " ..." : "");
  fputs(name, stdout);
  wrap_print(stdout, WRAP_WIDTH, HELP_INDENT + 2, HELP_INDENT + 2, "", option->help);
}

static void usage_print(const struct command *command)
{
  printf("  keyway %s%s%s\n", command->name, command->arguments != NULL ? " " : "",
         command->arguments != NULL ? command->arguments : "");
}

static void command_help(const struct run *run, enum command_id id)
{
  usage_print(&line_commands[id]);
  wrap_print(stdout, WRAP_WIDTH, HELP_INDENT, HELP_INDENT, "", line_commands[id].about);
  puts("\nOptions");
  for (size_t i = 0; i < OPTION_COUNT; i++) {
    if ((line_options[i].commands >> id & 1u) != 0)
      option_print(run, &line_options[i]);
  }
}

static void status_help(void)
{
  puts("\nExit status\n"
       "  0  nothing at or over --fail-on\n"
       "  1  such findings\n"
       "  2  wrong usage, or a rule pack that cannot be used\n"
       "  3  an input that cannot be read or is malformed\n"
       "  4  too little could be checked (see --need)\n"
       "  5  a fault of the program itself\n"
       "  The highest that applies, in the order 5 2 3 1 4 0.");
}

enum status help_command(struct run *run, const struct line *line)
{
  if (line->argument_count > 0) {
    struct problems problems;
    problems_init(&problems, run->arena, PROBLEM_OF_USAGE);
    enum command_id id = line_command(line->arguments[0], &problems);
    if (id == COMMAND_COUNT)
      return command_refuse(run, &problems);
    command_help(run, id);
    if (id == COMMAND_AUDIT)
      status_help();
    return STATUS_CLEAN;
  }
  puts("Keyway: a second pair of eyes on engine-control settings.\n");
  for (size_t i = 0; i < COMMAND_COUNT; i++) {
    usage_print(&line_commands[i]);
    wrap_print(stdout, WRAP_WIDTH, HELP_INDENT, HELP_INDENT, "", line_commands[i].about);
  }
  puts("  keyway --version\n"
       "  keyway --help");
  status_help();
  puts("\n'keyway help COMMAND' shows its options. '-' as a file name is standard input; '--' ends the options.");
  return STATUS_CLEAN;
}
