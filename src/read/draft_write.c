/* The draft as an adapter file. Reading order: draft_write; write_reads, write_place (write_part for one match), then
 * what was not placed and what was not found. */
#include "read/draft_parts.h"

#include "read/settings_write.h"
#include "text/utf8.h"

#define SHOWN 60
#define LISTED 200 /* items that were not placed */

static const char *plain_text(const struct draft *draft, struct slice text)
{
  return settings_write_text(draft->arena, text);
}

/* For comments: one line, nothing that a terminal obeys or YAML refuses. */
static void write_shown(FILE *out, struct slice text)
{
  struct slice shown = utf8_cut(text, SHOWN);
  for (size_t i = 0; i < shown.size;) {
    uint32_t code = 0;
    size_t size = utf8_read(slice_part(shown, i, shown.size), &code);
    struct slice one = slice_part(shown, i, i + (size > 0 ? size : 1));
    bool sound = size > 0 && code >= ' ' && code != 0xfeff && utf8_check(one).fault == UTF8_SOUND;
    fwrite(sound ? one.at : " ", 1, sound ? one.size : 1, out);
    i += one.size;
  }
  fputs(shown.size < text.size ? "..." : "", out);
}

static void write_reads(FILE *out, const struct draft *draft)
{
  static const char *const encodings[] = {"auto", "utf-8", "utf-16", "latin-1"};
  const struct record_style *style = &draft->style;
  fprintf(out, "reads:\n  shape: %s\n  encoding: %s\n", shape_name(style->shape), encodings[draft->encoding]);
  if (style->shape == SHAPE_LINES) {
    fprintf(out, "  separator: %s\n", plain_text(draft, style->separator));
    if (style->section != NULL)
      fprintf(out, "  section: %s\n", plain_text(draft, pattern_text(style->section)));
  }
  if (style->shape == SHAPE_LINES || style->shape == SHAPE_TABLE) {
    fputs("  comment: [", out);
    for (size_t i = 0; i < style->comment_count; i++)
      fprintf(out, "%s%s", i > 0 ? ", " : "", plain_text(draft, style->comments[i]));
    fputs("]\n", out);
  }
  if (style->shape == SHAPE_TABLE)
    fprintf(out, "  delimiter: %s\n",
            style->delimiter == '\t' ? "tab" : arena_print(draft->arena, "\"%c\"", style->delimiter));
  if (draft->decimal == ',')
    fputs("  decimal: comma\n", out);
  if (style->shape >= SHAPE_XML && style->key_count > 0) {
    fputs("  key: [", out);
    for (size_t i = 0; i < style->key_count; i++)
      fprintf(out, "%s%s", i > 0 ? ", " : "", plain_text(draft, style->keys[i]));
    fputs("]\n", out);
  }
}

static void write_unit(FILE *out, const struct draft *draft, const struct draft_item *item, const struct unit *wanted,
                       bool ratio)
{
  if (wanted == NULL)
    return;
  if (item->unit_in_text && (ratio || item->unit.kind == DRAFT_GAUGE))
    fprintf(out, ", text: '^[-+\\d%s]+'", draft->decimal == ',' ? "," : ".");
  if (ratio && draft->stoichiometric != NULL)
    fprintf(out, ", air_fuel_ratio: {match: %s}", draft_path_pattern(draft, draft->stoichiometric, DRAFT_MATCH));
  else if (ratio)
    fputs(", air_fuel_ratio: 14.7", out);
  if (ratio || item->unit.unit == NULL)
    return;
  if (item->unit.kind == DRAFT_GAUGE) {
    fprintf(out, ", unit: %s, gauge: {barometer: ", plain_text(draft, slice_of(item->unit.unit->name)));
    if (draft->barometer != NULL)
      fprintf(out, "{match: %s, unit: %s}}", draft_path_pattern(draft, draft->barometer, DRAFT_MATCH),
              draft->barometer->unit.unit->name);
    else
      fputs("100 kPa}", out);
  } else if (item->unit_in_text) {
    fputs(", unit: {in: text}", out);
  } else if (item->sheet_unit) {
    fprintf(out, ", unit: {match: %s}", draft_path_pattern(draft, item, DRAFT_MATCH_UNIT));
  } else if (item->unit_item != NULL) {
    fprintf(out, ", unit: {match: %s}", draft_path_pattern(draft, item->unit_item, DRAFT_MATCH));
  } else {
    fprintf(out, ", unit: %s", plain_text(draft, slice_of(item->unit.unit->name)));
  }
}

/* "match: ..., unit: ..." of the numbers of an item. */
static void write_numbers(FILE *out, const struct draft *draft, const struct draft_item *item,
                          const struct unit *wanted, bool ratio, enum draft_pattern which)
{
  fprintf(out, "match: %s", draft_path_pattern(draft, item, which));
  write_unit(out, draft, item, wanted, ratio);
  if (item->hex)
    fputs(", hex: yes", out);
  if (item->scale != 1)
    fprintf(out, ", scale: %s", settings_write_number(draft->arena, item->scale, unit_find(slice_of("1")), true));
  if (item->split != NULL)
    fprintf(out, ", split: '%s'", item->split);
}

static void write_axis(FILE *out, const struct draft *draft, const struct draft_place *place, bool y)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_TUNE][place->entry];
  const struct draft_item *item = y ? place->y : place->x;
  fprintf(out, "    %s: {", y ? "y" : "x");
  if (item == place->item) {
    const struct draft_unit *unit = &item->row_unit;
    const struct draft_item *other = y ? place->x : place->y;
    unit = unit->unit == NULL && other != NULL ? &other->row_unit : unit;
    fprintf(out, "match: %s, from: at", draft_path_pattern(draft, item, DRAFT_MATCH_AT));
    if (unit->unit != NULL)
      fprintf(out, ", unit: %s", plain_text(draft, slice_of(unit->unit->name)));
  } else {
    write_numbers(out, draft, item, y ? entry->y_unit : entry->x_unit, false, DRAFT_MATCH);
  }
  fprintf(out, "%s}\n", (y ? place->flip_y : place->flip_x) ? ", flip: yes" : "");
}

static void write_grid(FILE *out, const struct draft *draft, const struct draft_place *place)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_TUNE][place->entry];
  bool table = entry->kind == VALUE_TABLE, cells = place->item->rows > 1 && place->item->columns > 1;
  fprintf(out, "  %.*s:  # %.2f\n", SLICE_ARG(entry->name), place->score);
  write_axis(out, draft, place, false);
  if (table)
    write_axis(out, draft, place, true);
  fputs("    value: {", out);
  write_numbers(out, draft, place->item, entry->unit, place->ratio, table && cells ? DRAFT_MATCH_CELL : DRAFT_MATCH);
  if (table && cells)
    fputs(", at: yes", out);
  else if (place->by_columns)
    fputs(", order: columns", out);
  if (place->flip_x || place->flip_y)
    fprintf(out, ", flip: %s",
            !table                           ? "yes"
            : place->flip_x && place->flip_y ? "[x, y]"
            : place->flip_x                  ? "[x]"
                                             : "[y]");
  fputs("}\n", out);
}

static void write_single(FILE *out, const struct draft *draft, const struct draft_place *place)
{
  const struct entry *entry = &draft->vocabulary->entries[SCOPE_TUNE][place->entry];
  const struct draft_item *item = place->item;
  fprintf(out, "  %.*s: {", SLICE_ARG(entry->name));
  if (place->pins != NULL)
    fprintf(out, "match: %s, %s: {from: name}", place->pins, place->name_is_pin ? "pin" : "function");
  else if (entry->kind == VALUE_NUMBER || (entry->kind == VALUE_LIST && item->numeric))
    write_numbers(out, draft, item, entry->unit, place->ratio, DRAFT_MATCH);
  else
    fprintf(out, "match: %s", draft_path_pattern(draft, item, DRAFT_MATCH));
  if (entry->kind == VALUE_LIST && !item->numeric)
    fprintf(out, ", unused: [%s]", plain_text(draft, item->text));
  if (entry->kind == VALUE_CHOICE)
    fprintf(out, ", values: {%s: %s}", plain_text(draft, item->text), plain_text(draft, entry->choices[place->choice]));
  if (place->inverted)
    fputs(", inverted: yes", out);
  fprintf(out, "}  # %.2f\n", place->score);
}

static void write_missing(FILE *out, const struct draft *draft, const struct draft_place *places, const bool *wanted)
{
  size_t count = 0;
  for (size_t i = 0; i < draft->vocabulary->count[SCOPE_TUNE]; i++) {
    if (places[i].item != NULL || (wanted != NULL && !wanted[i]))
      continue;
    if (count++ == 0)
      fprintf(out, "\n# %s, and nothing was found for:\n", wanted != NULL ? "Rules need" : "The vocabulary has");
    fprintf(out, "#   %.*s\n", SLICE_ARG(draft->vocabulary->entries[SCOPE_TUNE][i].name));
  }
}

static void write_unplaced(FILE *out, const struct draft *draft)
{
  size_t count = 0, listed = 0;
  for (size_t i = 0; i < draft->item_count; i++)
    count += !draft->items[i].used && !draft->items[i].is_note;
  if (count == 0 && draft->left_out == 0)
    return;
  fprintf(out, "\n# Not placed: %zu kind%s of records. Add entries, or patterns under 'ignore'.\n", count,
          count == 1 ? "" : "s");
  for (size_t i = 0; i < draft->item_count && listed < LISTED; i++) {
    const struct draft_item *item = &draft->items[i];
    if (item->used || item->is_note)
      continue;
    listed++;
    fputs("#   ", out);
    write_shown(out, slice_of(draft_path_pattern(draft, item, DRAFT_MATCH)));
    fprintf(out, "  %zu record%s: ", item->count, item->count == 1 ? "" : "s");
    write_shown(out, item->text);
    fputc('\n', out);
  }
  if (listed < count)
    fprintf(out, "#   ... and %zu more\n", count - listed);
  if (draft->left_out > 0)
    fprintf(out, "#   %zu records were not looked at: too many kinds, or too deep\n", draft->left_out);
}

void draft_write(FILE *out, struct draft *draft, const struct draft_place *places, const bool *wanted)
{
  size_t placed = 0, doubtful = 0;
  for (size_t i = 0; i < draft->vocabulary->count[SCOPE_TUNE]; i++) {
    placed += places[i].item != NULL;
    doubtful += places[i].doubt != NULL;
  }
  fprintf(
      out,
      "# A draft: %zu setting%s placed, %zu of them doubtful. Behind each stands how well it fits, 0 to 1. Look at\n"
      "# each, at the doubtful ones first; then take the marks out. rules/ADAPTERS.md says what else can be written.\n"
      "keyway-adapter: 1\n",
      placed, placed == 1 ? " is" : "s are", doubtful);
  write_reads(out, draft);
  fputs(placed > 0 ? "settings:\n" : "settings: {}\n", out);
  for (size_t i = 0; i < draft->vocabulary->count[SCOPE_TUNE]; i++) {
    const struct entry *entry = &draft->vocabulary->entries[SCOPE_TUNE][i];
    if (places[i].item == NULL)
      continue;
    if (places[i].doubt != NULL)
      fprintf(out, "  # doubtful: %s\n", places[i].doubt);
    if (entry->kind == VALUE_CURVE || entry->kind == VALUE_TABLE)
      write_grid(out, draft, &places[i]);
    else
      write_single(out, draft, &places[i]);
  }
  write_unplaced(out, draft);
  write_missing(out, draft, places, wanted);
}
