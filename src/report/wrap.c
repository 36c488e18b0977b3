/* Text set in lines of a given width. Blanks are written with the word behind them, so that no line ends in blanks.
 * Reading order: word_take finds what must stay together, word_write puts it down, wrap_add joins the two. */
#include "report/wrap.h"

#include "report/escape.h"

static bool is_blank(char c)
{
  return c == ' ' || c == '\n' || c == '\t' || c == '\r';
}

static void blanks_skip(struct slice *text)
{
  while (text->size > 0 && is_blank(text->at[0]))
    *text = slice_part(*text, 1, text->size);
}

static size_t word_size(struct slice text)
{
  size_t size = 0;
  while (size < text.size && !is_blank(text.at[size]))
    size++;
  return size;
}

static bool is_number(struct slice word)
{
  bool digit = false;
  for (size_t i = 0; i < word.size; i++) {
    char c = word.at[i];
    digit = digit || (c >= '0' && c <= '9');
    if ((c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e')
      return false;
  }
  return digit;
}

void wrap_open(struct wrap *wrap, FILE *out, unsigned width, unsigned first, unsigned indent)
{
  width = width == 0 ? WRAP_WIDTH : width < WRAP_NARROWEST ? WRAP_NARROWEST : width;
  *wrap = (struct wrap){.out = out, .width = width, .indent = indent, .column = first, .blanks = first};
}

static void blanks_add(struct wrap *wrap, unsigned count)
{
  wrap->blanks += count;
  wrap->column += count;
}

static void line_break(struct wrap *wrap)
{
  fputc('\n', wrap->out);
  wrap->column = wrap->blanks = wrap->indent;
  wrap->started = false;
}

static size_t room_left(const struct wrap *wrap)
{
  return wrap->width > wrap->column ? wrap->width - wrap->column : 0;
}

static void blanks_write(struct wrap *wrap)
{
  for (; wrap->blanks > 0; wrap->blanks--)
    fputc(' ', wrap->out);
}

/* Writes one word, cutting it where the line is full. */
static void word_write(struct wrap *wrap, struct slice word)
{
  size_t plain = escape_plain(word);
  if (plain > 0 && plain <= room_left(wrap)) {
    blanks_write(wrap);
    fwrite(word.at, 1, plain, wrap->out);
    wrap->column += (unsigned)plain;
    word = slice_part(word, plain, word.size);
  }
  while (word.size > 0) {
    struct escape_part part = escape_next(word);
    if (wrap->column + part.columns > wrap->width && wrap->column > wrap->indent)
      line_break(wrap);
    blanks_write(wrap);
    fputs(part.text, wrap->out);
    wrap->column += part.columns;
    word = slice_part(word, part.used, word.size);
  }
  wrap->started = true;
}

/* `columns` must stay on one line with the word. */
static void word_add(struct wrap *wrap, struct slice word, size_t columns)
{
  if (wrap->started && columns + 1 > room_left(wrap))
    line_break(wrap);
  else if (wrap->started)
    blanks_add(wrap, 1);
  word_write(wrap, word);
}

void wrap_add(struct wrap *wrap, struct slice text)
{
  for (blanks_skip(&text); text.size > 0; blanks_skip(&text)) {
    struct slice word = slice_part(text, 0, word_size(text)), unit = {"", 0};
    text = slice_part(text, word.size, text.size);
    if (is_number(word)) {
      blanks_skip(&text);
      unit = slice_part(text, 0, word_size(text));
      text = slice_part(text, unit.size, text.size);
    }
    size_t columns = escape_columns(unit);
    word_add(wrap, word, escape_columns(word) + (columns > 0 ? 1 + columns : 0));
    if (unit.size > 0)
      word_add(wrap, unit, columns);
  }
}

void wrap_to(struct wrap *wrap, unsigned column)
{
  blanks_add(wrap, wrap->column < column ? column - wrap->column : wrap->started ? 1 : 0);
  wrap->started = false;
}

void wrap_mark(struct wrap *wrap, const char *code)
{
  fputs(code, wrap->out);
}

void wrap_close(struct wrap *wrap)
{
  fputc('\n', wrap->out);
  wrap->column = wrap->blanks = 0;
  wrap->started = false;
}

void wrap_print(FILE *out, unsigned width, unsigned first, unsigned indent, const char *label, const char *text)
{
  struct wrap wrap;
  wrap_open(&wrap, out, width, first, indent);
  wrap_add(&wrap, slice_of(label));
  wrap_add(&wrap, slice_of(text));
  wrap_close(&wrap);
}
