/* Words of labels compared with the words of the vocabulary. Reading order: draft_words_add (split, synonyms),
 * draft_lexicon_new (which words there are, and how much each tells), draft_words_score. */
#include "read/draft_parts.h"

#include <math.h>
#include <stdlib.h>

/* What a word stands for; several words are separated by blanks. The trade's general abbreviations and those of SAE
 * J1930; both labels and the vocabulary go through it. */
static const struct synonym {
  const char *word, *means;
} synonyms[] = {
    {"ac", "air conditioning"},
    {"accel", "acceleration"},
    {"act", "intake air"},
    {"adv", "advance"},
    {"afr", "lambda"},
    {"afterstart", "after cranking"},
    {"aircon", "air conditioning"},
    {"angle", "advance"},
    {"ase", "after cranking enrichment"},
    {"baro", "barometric"},
    {"barometer", "barometric"},
    {"batt", "battery"},
    {"cal", "calibration"},
    {"charge", "intake"},
    {"clt", "coolant"},
    {"comp", "compensation"},
    {"corr", "correction"},
    {"crank", "cranking"},
    {"ctrl", "control"},
    {"cts", "coolant"},
    {"cutoff", "cut"},
    {"cyl", "cylinder"},
    {"dc", "duty"},
    {"decay", "taper"},
    {"decel", "overrun"},
    {"deceleration", "overrun"},
    {"delay", "latency"},
    {"desired", "target"},
    {"dfco", "overrun cut"},
    {"direction", "sense"},
    {"ect", "coolant"},
    {"ego", "lambda"},
    {"enrich", "enrichment"},
    {"fade", "taper"},
    {"freq", "frequency"},
    {"iat", "intake air"},
    {"ign", "ignition"},
    {"inj", "injector"},
    {"injection", "injector"},
    {"lim", "limit"},
    {"limiter", "limit"},
    {"mat", "intake air"},
    {"max", "maximum"},
    {"min", "minimum"},
    {"motor", "engine"},
    {"parent", "based"},
    {"polarity", "sense"},
    {"pos", "position"},
    {"press", "pressure"},
    {"priming", "prime"},
    {"pw", "pulse width"},
    {"rev", "speed"},
    {"rpm", "speed"},
    {"selflearning", "self learning"},
    {"setpoint", "target"},
    {"spark", "ignition"},
    {"start", "cranking"},
    {"stoich", "stoichiometric"},
    {"temp", "temperature"},
    {"time", "duration"},
    {"timing", "advance"},
    {"tp", "throttle"},
    {"tps", "throttle"},
    {"vbat", "battery"},
    {"ve", "volumetric efficiency"},
    {"volt", "voltage"},
    {"warmup", "warm up"},
    {"water", "coolant"},
    {"wideband", "lambda"},
    {"wue", "warm up enrichment"},
};

/* They tell nothing about what a setting is. */
static const char *const empty_words[] = {
    "a",       "above",  "active", "and",   "at",        "axi",  "axis",   "below",   "bin",     "by",
    "cell",    "col",    "column", "curve", "data",      "deg",  "degree", "enable",  "enabled", "entry",
    "field",   "fitted", "for",    "from",  "group",     "in",   "is",     "item",    "list",    "map",
    "number",  "of",     "over",   "param", "parameter", "pct",  "per",    "percent", "row",     "section",
    "setting", "table",  "the",    "to",    "under",     "unit", "value",  "while",   "with",
};

#define SYNONYMS (sizeof synonyms / sizeof *synonyms)
#define EMPTY_WORDS (sizeof empty_words / sizeof *empty_words)
#define WORD_SIZE 24
#define SLOTS 4096
#define UNKNOWN_WEIGHT 2.0
#define ROOM_SHARE 0.3    /* "fuel." of a name: labels leave it out, or say it in the section */
#define AROUND_SHARE 0.75 /* a word of the name that only the section says */
#define ABOUT_SHARE 0.6

struct alias {
  struct draft_words words;
  size_t room_count; /* of the first words: those of the room */
};

struct entry_words {
  struct alias aliases[DRAFT_ALIASES];
  size_t alias_count;
  struct draft_words about, x, y;
};

struct draft_lexicon {
  struct arena *arena;
  char (*words)[WORD_SIZE]; /* id i at [i] */
  uint16_t slots[SLOTS];
  size_t count;
  bool closed; /* no new words */
  double *weight;
  const struct vocabulary *vocabulary;
  size_t entry_count;
  struct entry_words *entries;
};

static char small(char c)
{
  return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool is_small(char c)
{
  return c >= 'a' && c <= 'z';
}

static bool is_big(char c)
{
  return c >= 'A' && c <= 'Z';
}

/* 0: not known, and no room or no wish for it. */
static uint32_t word_id(const struct draft_lexicon *lexicon, const char *word)
{
  uint32_t hash = 2166136261u;
  for (const char *c = word; *c != '\0'; c++)
    hash = (hash ^ (unsigned char)*c) * 16777619u;
  for (size_t probe = 0; probe < SLOTS; probe++) {
    size_t slot = (hash + probe) % SLOTS;
    uint32_t id = lexicon->slots[slot];
    if (id != 0 && strcmp(lexicon->words[id], word) == 0)
      return id;
    if (id != 0)
      continue;
    struct draft_lexicon *open = lexicon->closed ? NULL : (struct draft_lexicon *)lexicon;
    if (open == NULL || open->count + 1 >= SLOTS / 2)
      return 0;
    open->slots[slot] = (uint16_t)++open->count;
    memcpy(open->words[open->count], word, strlen(word) + 1);
    return (uint32_t)open->count;
  }
  return 0;
}

bool draft_words_hold(const struct draft_words *words, uint32_t id)
{
  for (size_t i = 0; i < words->count; i++) {
    if (words->id[i] == id)
      return true;
  }
  return false;
}

static void add_id(struct draft_words *out, uint32_t id)
{
  if (out->count < DRAFT_WORDS && (id == 0 || !draft_words_hold(out, id)))
    out->id[out->count++] = id;
}

static int synonym_compare(const void *key, const void *item)
{
  return strcmp(key, ((const struct synonym *)item)->word);
}

static int text_compare(const void *key, const void *item)
{
  return strcmp(key, *(const char *const *)item);
}

static void add_means(const struct draft_lexicon *lexicon, const char *means, struct draft_words *out)
{
  char word[WORD_SIZE];
  for (const char *from = means; *from != '\0';) {
    size_t size = strcspn(from, " ");
    memcpy(word, from, size);
    word[size] = '\0';
    add_id(out, word_id(lexicon, word));
    from += size + (from[size] == ' ');
  }
}

/* One word as it stands in a label. */
static void add_word(const struct draft_lexicon *lexicon, struct slice text, bool pressure, struct draft_words *out)
{
  char word[WORD_SIZE];
  size_t size = text.size < WORD_SIZE - 1 ? text.size : WORD_SIZE - 1;
  if (slice_is(text, "MAP") || (pressure && text.size == 3 && slice_distance(text, slice_of("map")) == 0)) {
    add_means(lexicon, "manifold pressure", out);
    return;
  }
  for (size_t i = 0; i < size; i++)
    word[i] = small(text.at[i]);
  if (size > 3 && word[size - 1] == 's' && word[size - 2] != 's')
    size--;
  word[size] = '\0';
  const struct synonym *synonym = bsearch(word, synonyms, SYNONYMS, sizeof *synonyms, synonym_compare);
  if (synonym != NULL)
    add_means(lexicon, synonym->means, out);
  else if (size > 1 && bsearch(word, empty_words, EMPTY_WORDS, sizeof *empty_words, text_compare) == NULL)
    add_id(out, word_id(lexicon, word));
}

void draft_words_add(const struct draft_lexicon *lexicon, struct slice text, bool pressure, struct draft_words *out)
{
  for (size_t at = 0; at < text.size;) {
    char c = text.at[at];
    if (slice_is(slice_part(text, at, at + 3 < text.size ? at + 3 : text.size), "A/C")) {
      add_word(lexicon, slice_of("ac"), pressure, out);
      at += 3;
      continue;
    }
    if (!is_small(c) && !is_big(c)) {
      at++;
      continue;
    }
    size_t to = at + 1;
    while (to < text.size && (is_small(text.at[to]) || is_big(text.at[to]))) {
      bool next_small = to + 1 < text.size && is_small(text.at[to + 1]);
      if (is_big(text.at[to]) && (is_small(text.at[to - 1]) || (to - at > 1 && next_small)))
        break;
      to++;
    }
    add_word(lexicon, slice_part(text, at, to), pressure, out);
    at = to;
  }
}

/* ---- the vocabulary's words */

static void read_alias(const struct draft_lexicon *lexicon, struct slice room, struct slice text,
                       struct entry_words *out)
{
  if (out->alias_count == DRAFT_ALIASES)
    return;
  struct alias *alias = &out->aliases[out->alias_count++];
  struct draft_words rooms = {0}, words = {0};
  draft_words_add(lexicon, text, false, &words);
  draft_words_add(lexicon, room, false, &rooms);
  for (size_t i = 0; i < rooms.count; i++) {
    if (!draft_words_hold(&words, rooms.id[i]))
      add_id(&alias->words, rooms.id[i]);
  }
  alias->room_count = alias->words.count;
  for (size_t i = 0; i < words.count; i++)
    add_id(&alias->words, words.id[i]);
}

static void read_entry(const struct draft_lexicon *lexicon, const struct entry *entry, struct entry_words *out)
{
  const char *dot = memchr(entry->name.at, '.', entry->name.size);
  size_t room = dot == NULL ? 0 : (size_t)(dot - entry->name.at);
  struct slice room_text = slice_part(entry->name, 0, room);
  read_alias(lexicon, room_text, slice_part(entry->name, room, entry->name.size), out);
  for (size_t i = 0; i < entry->also_count; i++)
    read_alias(lexicon, room_text, entry->also[i], out);
  draft_words_add(lexicon, entry->about, false, &out->about);
  draft_words_add(lexicon, entry->x_channel, false, &out->x);
  draft_words_add(lexicon, entry->y_channel, false, &out->y);
}

struct draft_lexicon *draft_lexicon_new(struct arena *arena, const struct vocabulary *vocabulary, enum scope scope)
{
  struct draft_lexicon *lexicon = ARENA_NEW(arena, struct draft_lexicon);
  lexicon->arena = arena;
  lexicon->vocabulary = vocabulary;
  lexicon->words = arena_array(arena, SLOTS / 2 + 1, WORD_SIZE);
  lexicon->entry_count = vocabulary->count[scope];
  lexicon->entries = ARENA_ARRAY(arena, lexicon->entry_count, struct entry_words);
  for (size_t i = 0; i < lexicon->entry_count; i++)
    read_entry(lexicon, &vocabulary->entries[scope][i], &lexicon->entries[i]);
  lexicon->closed = true;
  lexicon->weight = ARENA_ARRAY(arena, lexicon->count + 1, double);
  lexicon->weight[0] = UNKNOWN_WEIGHT;
  for (size_t id = 1; id <= lexicon->count; id++) {
    double holders = 0.5;
    for (size_t i = 0; i < lexicon->entry_count; i++)
      holders += draft_words_hold(&lexicon->entries[i].aliases[0].words, (uint32_t)id);
    /* As in the retrieval of documents: what stands in few names tells more. */
    lexicon->weight[id] = 0.5 + log((double)(lexicon->entry_count + 1) / holders) / 2;
  }
  return lexicon;
}

/* ---- scores */

static double recall_of(const struct draft_lexicon *lexicon, const struct alias *alias, const struct draft_words *own,
                        const struct draft_words *around)
{
  double all = 0, found = 0;
  for (size_t i = 0; i < alias->words.count; i++) {
    uint32_t id = alias->words.id[i];
    double weight = lexicon->weight[id] * (i < alias->room_count ? ROOM_SHARE : 1);
    all += weight;
    if (draft_words_hold(own, id))
      found += weight;
    else if (draft_words_hold(around, id))
      found += weight * (i < alias->room_count ? 1 : AROUND_SHARE);
  }
  return all > 0 ? found / all : 0;
}

static double precision_of(const struct draft_lexicon *lexicon, const struct entry_words *entry,
                           const struct alias *alias, const struct draft_words *words, double *all)
{
  double found = 0;
  *all = 0;
  for (size_t i = 0; i < words->count; i++) {
    uint32_t id = words->id[i];
    double weight = lexicon->weight[id];
    *all += weight;
    if (id == 0)
      continue;
    if (draft_words_hold(&alias->words, id) || draft_words_hold(&entry->aliases[0].words, id))
      found += weight;
    else if (draft_words_hold(&entry->about, id) || draft_words_hold(&entry->x, id) || draft_words_hold(&entry->y, id))
      found += weight * ABOUT_SHARE;
  }
  return found;
}

double draft_words_score(const struct draft_lexicon *lexicon, size_t entry, const struct draft_words *own,
                         const struct draft_words *around)
{
  const struct entry_words *words = &lexicon->entries[entry];
  double best = 0;
  for (size_t i = 0; i < words->alias_count; i++) {
    const struct alias *alias = &words->aliases[i];
    double own_all, around_all, recall = recall_of(lexicon, alias, own, around);
    double found = precision_of(lexicon, words, alias, own, &own_all);
    found += 0.25 * precision_of(lexicon, words, alias, around, &around_all);
    double precision = own_all + around_all > 0 ? found / (own_all + 0.25 * around_all) : 0;
    double score = recall + precision > 0 ? 2 * recall * precision / (recall + precision) : 0;
    best = score > best ? score : best;
  }
  return best;
}

double draft_words_channel(const struct draft_lexicon *lexicon, size_t entry, bool y, const struct draft_words *words)
{
  const struct draft_words *wanted = y ? &lexicon->entries[entry].y : &lexicon->entries[entry].x;
  double all = 0, found = 0;
  for (size_t i = 0; i < wanted->count; i++) {
    all += lexicon->weight[wanted->id[i]];
    if (draft_words_hold(words, wanted->id[i]))
      found += lexicon->weight[wanted->id[i]];
  }
  return all > 0 ? found / all : 0;
}

/* ---- choices */

#define CHOICE_WORDS 8

/* Small letters, words of three letters and more cut of "s" and "ed"; *count words, each NUL-terminated. */
static size_t choice_split(struct slice text, char (*out)[WORD_SIZE])
{
  size_t count = 0;
  for (size_t at = 0; at < text.size && count < CHOICE_WORDS;) {
    size_t size = 0;
    for (; at < text.size && (is_small(text.at[at]) || is_big(text.at[at])); at++) {
      if (size < WORD_SIZE - 1)
        out[count][size++] = small(text.at[at]);
    }
    size -= size > 3 && out[count][size - 1] == 's';
    out[count][size] = '\0';
    at += size == 0 || at < text.size;
    if (size > 0 && strcmp(out[count], "and") != 0)
      count++;
  }
  return count;
}

/* Whether all words of a text stand in a choice, and how many the choice has besides; SIZE_MAX: not all. */
static size_t choice_rest(struct slice text, struct slice choice)
{
  char said[CHOICE_WORDS][WORD_SIZE], words[CHOICE_WORDS][WORD_SIZE];
  size_t said_count = choice_split(text, said), count = choice_split(choice, words);
  for (size_t i = 0; i < said_count; i++) {
    bool found = false;
    for (size_t k = 0; k < count; k++)
      found = found || strcmp(said[i], words[k]) == 0;
    if (!found)
      return SIZE_MAX;
  }
  return said_count == 0 ? SIZE_MAX : count - said_count;
}

size_t draft_words_choice(const struct entry *entry, struct slice text)
{
  static const char *const on[] = {"on", "yes", "true", "active", "enabled"};
  size_t best = entry->choice_count, least = SIZE_MAX, off = entry->choice_count;
  bool tie = false;
  for (size_t i = 0; i < entry->choice_count; i++) {
    size_t rest = choice_rest(text, entry->choices[i]);
    off = slice_is(entry->choices[i], "off") ? i : off;
    tie = rest == least ? rest != SIZE_MAX : rest < least ? false : tie;
    best = rest < least ? i : best;
    least = rest < least ? rest : least;
  }
  for (size_t i = 0; best == entry->choice_count && off < 2 && entry->choice_count == 2 && i < 5; i++) {
    if (text.size == strlen(on[i]) && slice_distance(text, slice_of(on[i])) == 0)
      return 1 - off;
  }
  return tie ? entry->choice_count : best;
}
