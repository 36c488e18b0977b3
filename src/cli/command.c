/* The whole program: read the command line, run the command, see that what was printed arrived. */
#include "cli/command.h"

#include "cli/checklist.h"
#include "cli/draft.h"
#include "cli/library.h"
#include "cli/output.h"
#include "cli/prove.h"
#include "cli/sheet.h"
#include "cli/version.h"
#include "report/report.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <unistd.h>

/* A descriptor that the caller closed would be given to the next file opened, and a report would end up in it. Held
 * open the wrong way round, it still refuses what is written to it. */
static void descriptors_hold(void)
{
  for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++) {
    if (fcntl(fd, F_GETFD) == -1 && errno == EBADF)
      open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
  }
}

enum status command_refuse(struct run *run, const struct problems *problems)
{
  struct report_options plain = {.color = false, .width = 0, .version = KEYWAY_VERSION};
  report_problems(stderr, problems, run->sources, &plain);
  if (problems_has(problems, PROBLEM_OF_USAGE) || problems_has(problems, PROBLEM_OF_PACK))
    return STATUS_USAGE;
  return problems_has(problems, PROBLEM_OF_INPUT) ? STATUS_INPUT : STATUS_CLEAN;
}

static enum status prove_start(struct run *run, const struct line *line)
{
  struct problems problems;
  problems_init(&problems, run->arena, PROBLEM_OF_PACK);
  const struct vocabulary *vocabulary = library_vocabulary(run->arena, run->sources, &problems);
  int status = STATUS_CLEAN;
  if (vocabulary != NULL)
    status =
        prove_command(run->arena, run->sources, vocabulary, line->arguments, line->argument_count, stdout, &problems);
  sources_name(run->sources, NULL);
  return status_worse((enum status)status, command_refuse(run, &problems));
}

static enum status line_run(struct run *run, const struct line *line)
{
  if (line->version) {
    puts("keyway " KEYWAY_VERSION);
    return STATUS_CLEAN;
  }
  switch (line->command) {
  case COMMAND_AUDIT:
    return audit_command(run, line);
  case COMMAND_LOG:
    return log_command(run, line);
  case COMMAND_EXPLAIN:
    return explain_command(run, line);
  case COMMAND_LIST:
    return list_command(run, line);
  case COMMAND_PROVE:
    return prove_start(run, line);
  case COMMAND_CONVERT:
    return convert_command(run, line);
  case COMMAND_DRAFT:
    return draft_command(run, line);
  case COMMAND_SHEET:
    return sheet_command(run, line);
  case COMMAND_CHECKLIST:
    return checklist_command(run, line);
  case COMMAND_HELP:
  case COMMAND_COUNT:
    break;
  }
  return help_command(run, line);
}

int command_run(int argc, char *const *argv)
{
  descriptors_hold();
  /* A reader that goes away is an error to report, not a silent death. */
  signal(SIGPIPE, SIG_IGN);
  struct arena *arena = arena_new();
  struct run run = {arena, sources_new(arena)};
  struct problems usage;
  problems_init(&usage, arena, PROBLEM_OF_USAGE);
  struct line line;
  enum status status =
      line_read(arena, argc, argv, &line, &usage) ? line_run(&run, &line) : command_refuse(&run, &usage);
  const char *why = output_flush(arena, stdout, "standard output");
  if (why != NULL && status != STATUS_FAULT) {
    fprintf(stderr, "keyway: %s\n", why);
    status = STATUS_FAULT;
  }
  arena_free(arena);
  return (int)status;
}
