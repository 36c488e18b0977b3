/* A first adapter for an export that nobody has described. Reading order: draft_settings: decode, flatten (again with
 * the keys that were found), items, match, write. */
#include "read/draft_parts.h"

#define KEYS_MOST 3 /* found ones, besides the usual */

static void add_key(struct draft *draft, struct slice key)
{
  struct slice *keys = ARENA_ARRAY(draft->arena, draft->style.key_count + 1, struct slice);
  for (size_t i = 0; i < draft->style.key_count; i++)
    keys[i] = draft->style.keys[i];
  keys[draft->style.key_count++] = key;
  draft->style.keys = keys;
}

/* As it says itself, else Latin-1, in which any bytes are text. The new bytes outlive the draft: problems point into
 * them. */
static bool decode(struct draft *draft, struct source *source, struct problems *problems)
{
  struct problems quiet;
  problems_init(&quiet, problems->arena, problems->of);
  draft->encoding = ENCODING_AUTO;
  if (record_decode(problems->arena, source, ENCODING_AUTO, &quiet))
    return true;
  draft->encoding = ENCODING_LATIN1;
  return record_decode(problems->arena, source, ENCODING_LATIN1, problems);
}

static bool read_items(struct draft *draft, const struct source *source, struct problems *problems)
{
  for (size_t round = 0;; round++) {
    if (!record_read(draft->arena, source, &draft->style, problems, &draft->records))
      return false;
    if (draft->records.count == 0)
      return problems_add(problems, (struct place){source->id, 0, 0},
                          "holds no records: there is nothing to draft from");
    draft_items_read(draft);
    struct slice key = draft_path_key(draft);
    if (key.size == 0 || round == KEYS_MOST)
      return true;
    add_key(draft, key);
  }
}

bool draft_settings(FILE *out, const struct vocabulary *vocabulary, struct source *source, const bool *wanted,
                    struct problems *problems)
{
  struct arena *arena = arena_new();
  struct draft draft = {.arena = arena, .vocabulary = vocabulary};
  bool good = decode(&draft, source, problems);
  if (good) {
    draft.lexicon = draft_lexicon_new(arena, vocabulary, SCOPE_TUNE);
    draft.style = record_style_guess(arena, source);
    good = read_items(&draft, source, problems);
  }
  if (good)
    draft_write(out, &draft, draft_match(&draft), wanted);
  arena_free(arena);
  return good;
}
