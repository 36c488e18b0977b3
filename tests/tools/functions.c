/* Writes the manual with its table of functions made anew: functions < rules/LANGUAGE.md > NEW. Status 1 when the
 * manual has no place for the table. */
#include "functions.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

int main(void)
{
  static char line[1 << 16];
  bool within = false, begun = false, ended = false;
  while (fgets(line, sizeof line, stdin)) {
    if (strcmp(line, FUNCTIONS_END) == 0) {
      ended = within;
      within = false;
    }
    if (!within)
      fputs(line, stdout);
    if (strcmp(line, FUNCTIONS_BEGIN) == 0) {
      begun = within = true;
      for (size_t i = 0; i < FUNCTIONS_LINES; i++)
        fputs(functions_table[i], stdout);
    }
  }
  if (begun && ended)
    return fflush(stdout) == 0 ? 0 : 1;
  fprintf(stderr, "functions: no lines '%.*s' and '%.*s'\n", (int)strlen(FUNCTIONS_BEGIN) - 1, FUNCTIONS_BEGIN,
          (int)strlen(FUNCTIONS_END) - 1, FUNCTIONS_END);
  return 1;
}
