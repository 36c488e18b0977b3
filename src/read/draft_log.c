/* A first adapter for a log: headings matched with the channels by words and units. Reading order: draft_log; headings
 * that Keyway knows by themselves need no entry; score_of; write_channel. */
#include "read/draft_parts.h"

#include "base/number.h"
#include "read/log_layout.h"
#include "read/settings_write.h"
#include "text/utf8.h"

#include <stdlib.h>

#define NEARLY 0.9
#define ROWS_LOOKED_AT 2000

struct heading {
  struct slice text;
  struct draft_words words;
  struct draft_unit unit;
  bool in_heading; /* its unit; else in the row below */
  const struct entry *known;
  size_t index;   /* of the column */
  size_t channel; /* SIZE_MAX: none */
  double score;
  const char *doubt;
};

struct pair {
  double score;
  size_t heading, channel;
};

struct log_draft {
  struct arena *arena;
  const struct log_layout *layout;
  const struct vocabulary *vocabulary;
  const struct draft_lexicon *lexicon;
  struct heading *headings;
  size_t count;
  struct pair *pairs;
  size_t pair_count;
};

static void read_heading(struct log_draft *draft, const struct log_names *names, struct slice text, struct slice below,
                         struct heading *out)
{
  struct log_heading parts = log_names_read(names, text);
  struct slice rest = text;
  *out = (struct heading){.text = text, .known = parts.entry, .channel = SIZE_MAX};
  /* The log reader takes no gauge pressure and no air-fuel ratio without being told. */
  struct draft_unit special;
  if (parts.unit.size > 0 && draft_unit_read(draft->arena, parts.unit, &special) && special.kind != DRAFT_PLAIN)
    out->known = NULL;
  out->in_heading = draft_unit_of_name(draft->arena, text, &out->unit, &rest);
  if (!out->in_heading && below.size > 0)
    draft_unit_read(draft->arena, below, &out->unit);
  bool pressure = out->unit.unit != NULL && unit_agrees(out->unit.unit, unit_find(slice_of("kPa")));
  draft_words_add(draft->lexicon, rest.size > 0 ? rest : text, pressure, &out->words);
}

static double score_of(const struct log_draft *draft, const struct heading *heading, size_t channel)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_LOG][channel];
  struct draft_words none = {0};
  double score = draft_words_score(draft->lexicon, channel, &heading->words, &none);
  if (heading->unit.unit == NULL)
    return dimension_is_none(entry->unit->dimension) ? score : score * 0.85;
  if (!unit_agrees(heading->unit.unit, entry->unit) || entry->on_off)
    return 0;
  return score;
}

static int pair_compare(const void *a, const void *b)
{
  const struct pair *x = a, *y = b;
  if (x->score != y->score)
    return x->score < y->score ? 1 : -1;
  if (x->heading != y->heading)
    return x->heading < y->heading ? -1 : 1;
  return (x->channel > y->channel) - (x->channel < y->channel);
}

/* Whether nearly all numbers of the first rows are plausible. */
static bool is_plausible(const struct log_draft *draft, const struct heading *heading)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_LOG][heading->channel];
  const struct unit *unit =
      heading->unit.unit != NULL && heading->unit.kind != DRAFT_RATIO ? heading->unit.unit : entry->unit;
  const struct csv *csv = &draft->layout->csv;
  struct csv_cell *cells = ARENA_ARRAY(draft->arena, heading->index + 1, struct csv_cell);
  struct csv_row row;
  size_t seen = 0, odd = 0, rows = 0;
  for (const char *at = draft->layout->data; entry->has_range && at < csv->end && rows < ROWS_LOOKED_AT;
       at = row.next) {
    csv_read(csv, at, cells, heading->index + 1, &row);
    rows++;
    double number = 0;
    struct slice text =
        row.fault == CSV_SOUND && row.count > heading->index ? csv_text(&cells[heading->index]) : (struct slice){"", 0};
    char point = memchr(text.at, ',', text.size) != NULL ? ',' : '.';
    if (text.size == 0 || number_read(text, point, &number) != text.size)
      continue;
    double base = unit_to_base(unit, number);
    base = heading->unit.kind == DRAFT_RATIO ? base / 14.7 : heading->unit.kind == DRAFT_GAUGE ? base + 1e5 : base;
    seen++;
    odd += base < entry->range_low || base > entry->range_high;
  }
  return odd * 20 <= seen;
}

static void doubt(const struct log_draft *draft, struct heading *heading, const char *why)
{
  heading->doubt = heading->doubt == NULL ? why : arena_print(draft->arena, "%s; %s", heading->doubt, why);
}

static bool is_known(const struct log_draft *draft, size_t channel)
{
  for (size_t i = 0; i < draft->count; i++) {
    if (draft->headings[i].known == &draft->vocabulary->entries[SCOPE_LOG][channel])
      return true;
  }
  return false;
}

static bool is_taken(const struct log_draft *draft, size_t channel)
{
  for (size_t i = 0; i < draft->count; i++) {
    if (draft->headings[i].channel == channel)
      return true;
  }
  return false;
}

static void find_doubts(struct log_draft *draft, struct heading *heading)
{
  const struct entry *entries = draft->vocabulary->entries[SCOPE_LOG], *entry = &entries[heading->channel];
  if (heading->score < DRAFT_SURE)
    doubt(draft, heading, "the words fit in part");
  if (heading->unit.unit == NULL && !dimension_is_none(entry->unit->dimension))
    doubt(draft, heading, arena_print(draft->arena, "no unit is written: taken for %s", entry->unit->name));
  if (heading->unit.kind == DRAFT_RATIO)
    doubt(draft, heading, "which ratio is lambda 1? 14.7 is that of petrol");
  if (heading->unit.kind == DRAFT_GAUGE)
    doubt(draft, heading, "a gauge pressure: what did the barometer read?");
  if (!is_plausible(draft, heading))
    doubt(draft, heading,
          arena_print(draft->arena, "%s to %s is usual",
                      quantity_print(draft->arena, (struct quantity){entry->range_low, entry->unit}, NULL, 0),
                      quantity_print(draft->arena, (struct quantity){entry->range_high, entry->unit}, NULL, 0)));
  for (size_t i = 0; i < draft->pair_count; i++) {
    const struct pair *pair = &draft->pairs[i];
    if (&draft->headings[pair->heading] == heading && pair->channel != heading->channel &&
        pair->score > NEARLY * heading->score && !is_taken(draft, pair->channel))
      doubt(draft, heading, arena_print(draft->arena, "may be %.*s", SLICE_ARG(entries[pair->channel].name)));
    if (pair->channel == heading->channel && draft->headings[pair->heading].channel == SIZE_MAX &&
        pair->score > NEARLY * heading->score)
      doubt(draft, heading,
            arena_print(draft->arena, "column %s is nearly as good",
                        settings_write_text(draft->arena, draft->headings[pair->heading].text)));
  }
}

static void match(struct log_draft *draft)
{
  size_t channels = draft->vocabulary->count[SCOPE_LOG];
  draft->pairs = ARENA_ARRAY(draft->arena, draft->count * channels, struct pair);
  for (size_t i = 0; i < draft->count; i++) {
    for (size_t k = 0; draft->headings[i].known == NULL && k < channels; k++) {
      double score = is_known(draft, k) ? 0 : score_of(draft, &draft->headings[i], k);
      if (score >= DRAFT_LEAST)
        draft->pairs[draft->pair_count++] = (struct pair){score, i, k};
    }
  }
  if (draft->pair_count > 0)
    qsort(draft->pairs, draft->pair_count, sizeof *draft->pairs, pair_compare);
  for (size_t i = 0; i < draft->pair_count; i++) {
    struct heading *heading = &draft->headings[draft->pairs[i].heading];
    if (heading->channel != SIZE_MAX || is_taken(draft, draft->pairs[i].channel))
      continue;
    heading->channel = draft->pairs[i].channel;
    heading->score = draft->pairs[i].score;
  }
  for (size_t i = 0; i < draft->count; i++) {
    if (draft->headings[i].channel != SIZE_MAX)
      find_doubts(draft, &draft->headings[i]);
  }
}

/* ---- writing */

static const char *header_pattern(const struct log_draft *draft, struct slice text)
{
  char *out = arena_alloc(draft->arena, 2 * text.size + 8);
  size_t size = 0;
  out[size++] = '\'';
  out[size++] = '^';
  for (size_t i = 0; i < text.size; i++) {
    if (strchr("\\^$.[]|()?*+{}", text.at[i]) != NULL)
      out[size++] = '\\';
    out[size++] = (unsigned char)text.at[i] < ' ' ? '.' : text.at[i];
    if (text.at[i] == '\'')
      out[size++] = '\'';
  }
  memcpy(out + size, "$'", 3);
  return out;
}

static void write_channel(FILE *out, const struct log_draft *draft, const struct heading *heading)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_LOG][heading->channel];
  if (heading->doubt != NULL)
    fprintf(out, "    # doubtful: %s\n", heading->doubt);
  fprintf(out, "    %.*s: {header: %s", SLICE_ARG(entry->name), header_pattern(draft, heading->text));
  if (heading->unit.kind == DRAFT_RATIO)
    fputs(", air_fuel_ratio: 14.7", out);
  else if (heading->unit.unit != NULL && (heading->in_heading || heading->unit.kind == DRAFT_GAUGE))
    fprintf(out, ", unit: %s", settings_write_text(draft->arena, slice_of(heading->unit.unit->name)));
  if (heading->unit.kind == DRAFT_GAUGE)
    fputs(", gauge: {barometer: 100 kPa}", out);
  fprintf(out, "}  # %.2f\n", heading->score);
}

static void write_rest(FILE *out, const struct log_draft *draft, const bool *wanted)
{
  size_t count = 0;
  for (size_t i = 0; i < draft->count; i++) {
    if (draft->headings[i].known == NULL && draft->headings[i].channel == SIZE_MAX)
      fprintf(out, "%s#   %s\n", count++ == 0 ? "\n# Columns that were not placed:\n" : "",
              settings_write_text(draft->arena, draft->headings[i].text));
  }
  count = 0;
  for (size_t i = 0; i < draft->vocabulary->count[SCOPE_LOG]; i++) {
    if (!is_known(draft, i) && !is_taken(draft, i) && (wanted == NULL || wanted[i]))
      fprintf(out, "%s%s#   %.*s\n",
              count == 0 && wanted != NULL ? "\n# Rules need, and no column was found for:\n" : "",
              count == 0 && wanted == NULL ? "\n# The vocabulary has, and no column was found for:\n" : "",
              SLICE_ARG(draft->vocabulary->entries[SCOPE_LOG][i].name));
    count += !is_known(draft, i) && !is_taken(draft, i) && (wanted == NULL || wanted[i]);
  }
}

static void write_draft(FILE *out, const struct log_draft *draft, const bool *wanted)
{
  size_t placed = 0, known = 0, doubtful = 0;
  for (size_t i = 0; i < draft->count; i++) {
    known += draft->headings[i].known != NULL;
    placed += draft->headings[i].channel != SIZE_MAX;
    doubtful += draft->headings[i].doubt != NULL;
  }
  fprintf(
      out,
      "# A draft: %zu of %zu columns are read without an adapter; %zu more were placed, %zu of them doubtful. Behind\n"
      "# each stands how well it fits, 0 to 1. Look at each, at the doubtful ones first; then take the marks out.\n"
      "keyway-adapter: 1\nlog:\n",
      known, draft->count, placed, doubtful);
  fputs(placed > 0 ? "  channels:\n" : "  channels: {}\n", out);
  for (size_t i = 0; i < draft->count; i++) {
    if (draft->headings[i].channel != SIZE_MAX)
      write_channel(out, draft, &draft->headings[i]);
  }
  write_rest(out, draft, wanted);
}

bool draft_log(FILE *out, const struct vocabulary *vocabulary, struct source *source, const bool *wanted,
               struct problems *problems)
{
  struct arena *arena = arena_new();
  struct log_draft draft = {.arena = arena, .vocabulary = vocabulary};
  const struct log_names *names = log_names_new(arena, vocabulary);
  struct log_layout layout;
  bool good = log_layout_read(arena, names, NULL, source, problems, &layout);
  if (good) {
    draft.layout = &layout;
    draft.lexicon = draft_lexicon_new(arena, vocabulary, SCOPE_LOG);
    draft.headings = ARENA_ARRAY(arena, layout.column_count, struct heading);
    for (size_t i = 0; i < layout.column_count; i++) {
      struct slice text = csv_decode(arena, &layout.names[i]);
      struct slice below = i < layout.unit_count ? csv_text(&layout.units[i]) : (struct slice){"", 0};
      if (text.size == 0)
        continue;
      /* An adapter is UTF-8, and cannot name such a column. */
      if (utf8_check(text).fault != UTF8_SOUND)
        text = slice_of(arena_print(arena, "(column %zu, whose heading is not UTF-8)", i + 1));
      read_heading(&draft, names, text, below, &draft.headings[draft.count]);
      draft.headings[draft.count++].index = i;
    }
    match(&draft);
    write_draft(out, &draft, wanted);
  }
  arena_free(arena);
  return good;
}
