/* keyway: a second pair of eyes on engine-control settings. */
#include "cli/command.h"

int main(int argc, char **argv)
{
  return command_run(argc, argv);
}
