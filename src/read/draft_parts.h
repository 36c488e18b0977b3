/* What a draft is made of. Private to read/ (draft*.c). Everything lives in the draft's arena. An *item* is what
 * belongs together by its path: one record, or all records whose paths differ by numbers alone. */
#ifndef KEYWAY_READ_DRAFT_PARTS_H
#define KEYWAY_READ_DRAFT_PARTS_H

#include "base/limits.h"
#include "read/draft.h"

#define DRAFT_STEPS 10  /* of a path; deeper ones are left unplaced */
#define DRAFT_WORDS 24  /* of a label */
#define DRAFT_ALIASES 8 /* names of one entry that are looked at */
#define DRAFT_NUMBERS ((size_t)LIMIT_AXIS * LIMIT_AXIS)

/* ---- draft_words.c */

/* Words of labels, normal: small letters, no plurals, abbreviations written out. */
struct draft_words {
  size_t count;
  uint32_t id[DRAFT_WORDS]; /* 0: a word that the vocabulary does not know */
};

struct draft_lexicon;

/* All words of a scope. */
struct draft_lexicon *draft_lexicon_new(struct arena *arena, const struct vocabulary *vocabulary, enum scope scope);
/* Adds the words of a text. `pressure`: "map" stands for manifold pressure, not for a table. */
void draft_words_add(const struct draft_lexicon *lexicon, struct slice text, bool pressure, struct draft_words *out);
bool draft_words_hold(const struct draft_words *words, uint32_t id);
/* How well an entry's name, or one of its other names, fits: 0 to 1. `own` are the words of the label itself,
 * `around` those of the sections that it stands in. */
double draft_words_score(const struct draft_lexicon *lexicon, size_t entry, const struct draft_words *own,
                         const struct draft_words *around);
/* How well a log channel's name fits an axis. */
double draft_words_channel(const struct draft_lexicon *lexicon, size_t entry, bool y, const struct draft_words *words);
/* The choice that a text means, by its words: its index, or the count when none or several may be meant. */
size_t draft_words_choice(const struct entry *entry, struct slice text);

/* ---- draft_unit.c */

enum draft_unit_kind { DRAFT_PLAIN, DRAFT_GAUGE, DRAFT_RATIO };

struct draft_unit {
  const struct unit *unit;   /* NULL: not known */
  enum draft_unit_kind kind; /* pressure above the barometer; air-fuel ratio */
};

/* "kPa", "[psi]", "kPa gauge", "AFR"; false: no unit. */
bool draft_unit_read(struct arena *arena, struct slice text, struct draft_unit *out);
/* The unit at the end of a name: "Coolant (degF)", "dwell_ms", "Dead time ms"; *rest is the name without it. */
bool draft_unit_of_name(struct arena *arena, struct slice name, struct draft_unit *out, struct slice *rest);

/* ---- draft_item.c */

enum draft_step_kind {
  DRAFT_TEXT,
  DRAFT_INDEX, /* a number */
  DRAFT_ROW,   /* a breakpoint, with what stands behind it */
  DRAFT_CELL   /* a text with two numbers: row and column */
};

struct draft_step {
  enum draft_step_kind kind;
  struct slice text;
  bool repeats; /* "#2" was seen behind it */
};

struct draft_item {
  struct draft_step steps[DRAFT_STEPS];
  size_t step_count;
  const char *key;                 /* the path with its numbers taken out */
  size_t first, count;             /* of its records: the first one's index, and how many */
  size_t odd;                      /* how many of them are no numbers */
  struct slice text;               /* of the first record that counts */
  size_t number_count, per_record; /* per_record 0: not equally many in each */
  double *numbers;                 /* as written */
  struct place first_place;
  bool numeric, hex, sheet_unit; /* sheet_unit: a cell of the row is the unit */
  const char *split;             /* pattern between the numbers of a record; NULL: one number a record */
  size_t unit_cell;              /* sheet: number of the cell that holds the unit; 0: none */
  bool unit_in_text;
  const struct draft_item *unit_item; /* another record holds the unit */
  struct draft_unit unit, row_unit;
  double scale;
  const char *scale_note;
  size_t rows, columns; /* of cells, where the paths tell */
  double *row_numbers;  /* DRAFT_ROW */
  size_t row_count;
  const struct draft_item *x, *y; /* named by attributes */
  struct draft_words own, around, row_words;
  bool is_note; /* says something about another item: a unit, a scale, the name of an axis */
  bool used;
};

struct draft {
  struct arena *arena;
  const struct vocabulary *vocabulary;
  struct draft_lexicon *lexicon;
  struct record_style style;
  enum record_encoding encoding;
  char decimal;
  struct slice thousands;
  struct record_list records;
  struct draft_item *items;
  size_t item_count, left_out; /* records of kinds that were too many to look at */
  uint32_t *item_of;           /* one a record: 1 + its item; 0: left out */
  const struct draft_item *barometer, *stoichiometric;
};

/* ---- draft_step.c */

#define DRAFT_KEY_SIZE 512

/* How many steps; 0: too many. */
size_t draft_step_split(const struct draft *draft, struct slice path, struct draft_step *out);
/* The path with its numbers taken out, up to a step; false: too long. `out` has DRAFT_KEY_SIZE bytes. */
bool draft_step_key(const struct draft_step *steps, size_t count, char *out);

/* Records into items, with their numbers, units and words. */
void draft_items_read(struct draft *draft);

/* ---- draft_path.c */

enum draft_pattern {
  DRAFT_MATCH,
  DRAFT_MATCH_AT,   /* group `at` is the breakpoint of a row */
  DRAFT_MATCH_CELL, /* groups `row` and `column` */
  DRAFT_MATCH_UNIT  /* the cell that holds the unit */
};
/* '^a/\d+/b$', as a scalar of YAML. */
const char *draft_path_pattern(const struct draft *draft, const struct draft_item *item, enum draft_pattern which);
/* The member or attribute that tells repeated objects or elements apart, to be a key of their steps; empty: none. */
struct slice draft_path_key(const struct draft *draft);

/* ---- draft_match.c */

struct draft_place { /* an entry at an item */
  size_t entry;
  struct draft_item *item;
  double score;
  const struct draft_item *x, *y;           /* axes; y == item: its rows carry the breakpoints */
  bool by_columns, flip_x, flip_y, swapped; /* swapped: nothing but the order tells the axes apart */
  const char *doubt;                        /* NULL: none */
  size_t choice, rivals;
  bool inverted, ratio; /* ratio: an air-fuel ratio */
  const char *pins;     /* pattern of all pins, with a group `name`; NULL: no pins */
  bool name_is_pin;
};

/* One for each tune name: item NULL: not placed. */
struct draft_place *draft_match(struct draft *draft);
/* Below this a match is marked. */
#define DRAFT_SURE 0.80
#define DRAFT_LEAST 0.45

/* ---- draft_pins.c */

/* Inputs and outputs: places of the two entries, their items marked as used. */
void draft_pins_find(struct draft *draft, struct draft_place *places);

/* ---- draft_grid.c */

/* The axes of a curve or table with its values in `item`, and how well they fit: 0: not at all. */
double draft_curve_axis(const struct draft *draft, size_t entry, const struct draft_item *item,
                        struct draft_place *out);
double draft_table_axes(const struct draft *draft, size_t entry, const struct draft_item *item,
                        struct draft_place *out);

/* ---- draft_write.c */
void draft_write(FILE *out, struct draft *draft, const struct draft_place *places, const bool *wanted);

#endif
