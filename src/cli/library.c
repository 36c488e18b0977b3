/* The vocabulary and the rule packs of one run: what is built into the program, then what the command line adds. */
#include "cli/library.h"

#include "audit/audit.h"
#include "base/limits.h"
#include "cli/embedded.h"
#include "read/vocabulary.h"
#include "read/vocabulary_image.h"
#include "rules/image.h"

static const struct source *embedded_source(struct sources *sources, const struct embedded_file *file)
{
  return sources_memory(sources, file->name, (struct slice){(const char *)file->bytes, file->size});
}

static const struct source *frozen_source(struct sources *sources, const struct embedded_file *file)
{
  return sources_frozen(sources, file->name, (struct slice){(const char *)file->bytes, file->size});
}

static struct image ready_image(struct arena *arena)
{
  return image_reader(arena, (struct slice){(const char *)embedded_image.bytes, embedded_image.size});
}

const struct vocabulary *library_vocabulary(struct arena *arena, struct sources *sources, struct problems *problems)
{
  struct image image = ready_image(arena);
  const struct vocabulary *ready = vocabulary_image(&image, NULL);
  return ready != NULL ? ready : vocabulary_read(arena, frozen_source(sources, &embedded_dictionary), problems);
}

/* What is built in, as the build compiled it. */
static bool ready_read(struct arena *arena, struct library *out)
{
  struct image image = ready_image(arena);
  out->vocabulary = vocabulary_image(&image, NULL);
  out->packs = out->vocabulary != NULL ? packs_image(&image, NULL) : NULL;
  return out->packs != NULL;
}

bool library_read(struct arena *arena, struct sources *sources, enum library_depth depth, const char *const *rules,
                  size_t rules_count, struct library *out, struct problems *problems)
{
  *out = (struct library){0};
  problems->of = PROBLEM_OF_PACK;
  if (depth == LIBRARY_LEAN && rules_count == 0 && ready_read(arena, out))
    return true;
  const struct source **packs = ARENA_ARRAY(arena, embedded_pack_count + rules_count, const struct source *);
  size_t count = 0;
  for (size_t i = 0; i < embedded_pack_count; i++)
    packs[count++] = depth == LIBRARY_WHOLE ? embedded_source(sources, &embedded_whole_packs[i])
                                            : frozen_source(sources, &embedded_packs[i]);
  bool opened = true;
  for (size_t i = 0; i < rules_count; i++) {
    const struct source *source = sources_open(sources, rules[i], LIMIT_YAML_BYTES, problems);
    opened = opened && source != NULL;
    if (source != NULL)
      packs[count++] = source;
  }
  const struct source *cautions = frozen_source(sources, &embedded_cautions);
  out->extras = packs + embedded_pack_count;
  out->extra_count = count - embedded_pack_count;
  out->vocabulary = library_vocabulary(arena, sources, problems);
  if (out->vocabulary == NULL)
    return false;
  out->packs = packs_read(arena, audit_names(arena, out->vocabulary), cautions, packs, count, problems);
  return opened && out->packs != NULL;
}
