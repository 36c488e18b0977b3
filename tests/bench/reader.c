/* Reads a log and nothing else, for counting what that takes: reader DICTIONARY LOG all|none, the columns that are
 * decoded besides the time. */
#include "base/limits.h"
#include "read/log.h"
#include "read/vocabulary.h"

#include <stdio.h>

int main(int count, char **words)
{
  if (count != 4)
    return 2;
  struct arena *arena = arena_new();
  struct sources *sources = sources_new(arena);
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_INPUT);
  const struct source *dictionary = sources_open(sources, words[1], LIMIT_YAML_BYTES, &problems);
  const struct source *source = sources_open_long(sources, words[2], LIMIT_LOG_BYTES, LOG_KEEP_BYTES, &problems);
  const struct vocabulary *vocabulary = dictionary != NULL ? vocabulary_read(arena, dictionary, &problems) : NULL;
  const struct log *log = NULL;
  if (vocabulary != NULL && source != NULL) {
    bool *none = ARENA_ARRAY(arena, vocabulary->count[SCOPE_LOG], bool);
    struct log_options options = {.wanted = strcmp(words[3], "all") == 0 ? NULL : none, .threads = 1, .array_rows = 1};
    log = log_read(arena, vocabulary, source, &options, &problems);
  }
  if (log != NULL)
    printf("%zu rows, %zu of %zu columns\n", log->row_count, log->decoded_count, log->column_count);
  arena_free(arena);
  return log == NULL;
}
