/* Build tool, for rules/embed.sh; what it makes goes to standard output. Problems go to standard error and end the
 * build. freeze FILE                             the tree of one YAML file (src/text/frozen.h) freeze DICTIONARY
 * CAUTIONS PACK...      vocabulary and packs, checked and compiled (base/image.h) */
#include "audit/audit.h"
#include "base/limits.h"
#include "base/source.h"
#include "read/vocabulary.h"
#include "read/vocabulary_image.h"
#include "rules/image.h"
#include "text/frozen.h"

struct work {
  struct arena *arena;
  struct sources *sources;
  struct problems problems;
};

static bool tree_write(struct work *work, const char *path)
{
  const struct source *source = sources_open(work->sources, path, LIMIT_YAML_BYTES, &work->problems);
  const struct node *root = source ? yaml_read(work->arena, source, &work->problems) : NULL;
  return root && frozen_write(stdout, root);
}

static bool image_write(struct work *work, char **paths, size_t count)
{
  const struct source **sources = ARENA_ARRAY(work->arena, count, const struct source *);
  for (size_t i = 0; i < count; i++) {
    sources[i] = sources_open(work->sources, paths[i], LIMIT_YAML_BYTES, &work->problems);
    if (sources[i] == NULL)
      return false;
  }
  const struct vocabulary *vocabulary = vocabulary_read(work->arena, sources[0], &work->problems);
  if (vocabulary == NULL)
    return false;
  const struct packs *packs = packs_read(work->arena, audit_names(work->arena, vocabulary), sources[1], sources + 2,
                                         count - 2, &work->problems);
  if (packs == NULL)
    return false;
  struct image image = image_writer(work->arena);
  return vocabulary_image(&image, vocabulary) && packs_image(&image, packs) &&
         fwrite(image.bytes, 1, image.size, stdout) == image.size;
}

int main(int argc, char **argv)
{
  struct work work = {.arena = arena_new()};
  work.sources = sources_new(work.arena);
  problems_init(&work.problems, work.arena, PROBLEM_OF_PACK);
  bool good = argc == 2 ? tree_write(&work, argv[1]) : argc > 3 && image_write(&work, argv + 1, (size_t)argc - 1);
  good = fflush(stdout) == 0 && good;
  for (size_t i = 0; i < work.problems.count; i++) {
    struct position position;
    sources_position(work.sources, work.problems.items[i].place, &position);
    fprintf(stderr, "%.*s:%llu:%llu: %s\n", SLICE_ARG(position.name), (unsigned long long)position.line,
            (unsigned long long)position.column, work.problems.items[i].message);
  }
  arena_free(work.arena);
  return good ? 0 : 1;
}
