/* Any bytes as an export, in every encoding and shape. What no list of records may break ends the run. */
#include "fuzz.h"
#include "text/record.h"

static void check(bool right, const char *what)
{
  if (right)
    return;
  fprintf(stderr, "fuzz_record: %s\n", what);
  abort();
}

static void read_one(struct fuzz *fuzz, const struct source *source, const struct record_style *style)
{
  struct record_list list = {0, NULL};
  size_t before = fuzz->problems.count + fuzz->problems.dropped;
  bool read = record_read(fuzz->arena, source, style, &fuzz->problems, &list);
  size_t after = fuzz->problems.count + fuzz->problems.dropped;
  check(read == (before == after), "a problem and no refusal, or the other way round");
  check(read || list.count == 0, "records though refused");
  for (size_t i = 0; i < list.count; i++) {
    const struct record_line *record = &list.items[i];
    check(record->text.size > 0 && record->text.size <= LIMIT_RECORD_BYTES, "the size of a text");
    check(record->place.start < record->place.end && record->place.end <= source->bytes.size, "a place");
    check(i == 0 || list.items[i - 1].place.start < record->place.start, "the order of places");
    check(i == 0 || !slice_equal(list.items[i - 1].path, record->path), "two neighbours with the same path");
  }
}

static void read_all(struct fuzz *fuzz, const struct source *source)
{
  static const size_t widths[] = {5, 1, 3};
  struct record_style guess = record_style_guess(fuzz->arena, source);
  read_one(fuzz, source, &guess);
  for (enum record_shape shape = SHAPE_LINES; shape < SHAPE_COUNT; shape++) {
    struct record_style style = record_style_usual(fuzz->arena, shape);
    read_one(fuzz, source, &style);
    if (shape == SHAPE_LINES) {
      style.separator = slice_of(" ");
      read_one(fuzz, source, &style);
    }
    for (const char *delimiter = "\t; "; shape == SHAPE_TABLE && *delimiter != '\0'; delimiter++) {
      style.delimiter = *delimiter;
      read_one(fuzz, source, &style);
    }
    if (shape == SHAPE_TABLE) {
      style.delimiter = '\0';
      style.width_count = sizeof widths / sizeof *widths;
      style.widths = widths;
      read_one(fuzz, source, &style);
    }
  }
}

static void fuzz_one(struct fuzz *fuzz, const struct source *source)
{
  for (enum record_encoding encoding = ENCODING_AUTO; encoding < ENCODING_COUNT; encoding++) {
    struct source copy = *source;
    if (record_decode(fuzz->arena, &copy, encoding, &fuzz->problems))
      read_all(fuzz, &copy);
  }
  /* Their places are those of the decoded bytes, which the run does not know. */
  fuzz->problems.count = 0;
}
