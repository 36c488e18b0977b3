/* How long commands take: timer RUNS COMMAND [ARG]... [--- COMMAND [ARG]...]...
 *
 * Runs them in turn, so that a busy machine slows all alike, with standard output and error thrown away; prints a line
 * a command: median wall-clock and median processor time in ms, and the exit status of the last run. Fails only when a
 * command cannot be run or dies of a signal. Reading order: main, run_turns, run_once. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { MOST_RUNS = 1000, MOST_COMMANDS = 16 };

struct timing {
  double wall[MOST_RUNS], processor[MOST_RUNS]; /* ms */
  int status;
};

static double now(void)
{
  struct timespec at;
  clock_gettime(CLOCK_MONOTONIC, &at);
  return (double)at.tv_sec * 1e3 + (double)at.tv_nsec * 1e-6;
}

static double processor_of_children(void)
{
  struct rusage used;
  getrusage(RUSAGE_CHILDREN, &used);
  return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e3 +
         (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) * 1e-3;
}

static void become(char **command)
{
  int nowhere = open("/dev/null", O_RDWR);
  for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
    dup2(nowhere, fd);
  execvp(command[0], command);
  _exit(127);
}

/* false when the command could not be run to its end. */
static int run_once(char **command, struct timing *timing, size_t run)
{
  double wall = now(), processor = processor_of_children();
  pid_t child = fork();
  if (child == 0)
    become(command);
  int status;
  if (child < 0 || waitpid(child, &status, 0) != child)
    return 0;
  timing->wall[run] = now() - wall;
  timing->processor[run] = processor_of_children() - processor;
  if (!WIFEXITED(status) || WEXITSTATUS(status) == 127)
    return 0;
  timing->status = WEXITSTATUS(status);
  return 1;
}

static int compare(const void *a, const void *b)
{
  double left = *(const double *)a, right = *(const double *)b;
  return (left > right) - (left < right);
}

static double median(double *at, size_t count)
{
  qsort(at, count, sizeof *at, compare);
  return count % 2 ? at[count / 2] : (at[count / 2 - 1] + at[count / 2]) / 2;
}

static int run_turns(char ***commands, size_t count, struct timing *timings, size_t runs)
{
  for (size_t run = 0; run < runs; run++) {
    for (size_t i = 0; i < count; i++) {
      if (!run_once(commands[i], &timings[i], run)) {
        fprintf(stderr, "timer: %s could not be run to its end\n", commands[i][0]);
        return 0;
      }
    }
  }
  return 1;
}

int main(int argc, char **argv)
{
  char **commands[MOST_COMMANDS] = {NULL};
  size_t count = 0;
  long runs = argc > 2 ? strtol(argv[1], NULL, 10) : 0;
  for (int i = 2; i < argc; i++) {
    if (strcmp(argv[i], "---") == 0)
      argv[i] = NULL;
    else if ((i == 2 || argv[i - 1] == NULL) && count < MOST_COMMANDS)
      commands[count++] = &argv[i];
  }
  if (runs < 1 || runs > MOST_RUNS || count == 0) {
    fputs("usage: timer RUNS COMMAND [ARG]... [--- COMMAND [ARG]...]...\n", stderr);
    return 2;
  }
  struct timing *timings = calloc(count, sizeof *timings);
  if (timings == NULL || !run_turns(commands, count, timings, (size_t)runs)) {
    free(timings);
    return 1;
  }
  for (size_t i = 0; i < count; i++)
    printf("%.3f %.3f %d\n", median(timings[i].wall, (size_t)runs), median(timings[i].processor, (size_t)runs),
           timings[i].status);
  free(timings);
  return 0;
}
