/* Build tool: reads one YAML file and writes its tree as bytes (src/text/frozen.h) to standard output, for
 * rules/embed.sh. Problems go to standard error and end the build. */
#include "base/limits.h"
#include "base/source.h"
#include "text/frozen.h"

int main(int argc, char **argv)
{
  struct arena *arena = arena_new();
  struct sources *sources = sources_new(arena);
  struct problems problems;
  problems_init(&problems, arena, PROBLEM_OF_PACK);
  const struct source *source = argc == 2 ? sources_open(sources, argv[1], LIMIT_YAML_BYTES, &problems) : NULL;
  const struct node *root = source ? yaml_read(arena, source, &problems) : NULL;
  bool good = root && frozen_write(stdout, root) && fflush(stdout) == 0;
  for (size_t i = 0; i < problems.count; i++) {
    struct position position;
    sources_position(sources, problems.items[i].place, &position);
    fprintf(stderr, "%s:%llu:%llu: %s\n", argv[1], (unsigned long long)position.line,
            (unsigned long long)position.column, problems.items[i].message);
  }
  arena_free(arena);
  return good ? 0 : 1;
}
