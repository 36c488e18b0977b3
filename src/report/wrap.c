/* Text set in lines of a given width. Blanks are written before a word, never behind one, so that no line ends in
 * blanks. Reading order: word_take finds what must stay together, word_write puts it down, wrap_add joins the two. */
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
  *wrap = (struct wrap){.out = out, .width = width, .indent = indent, .column = first, .started = false};
  if (first > 0)
    fprintf(out, "%*s", (int)first, "");
}

static void line_break(struct wrap *wrap)
{
  fputc('\n', wrap->out);
  if (wrap->indent > 0)
    fprintf(wrap->out, "%*s", (int)wrap->indent, "");
  wrap->column = wrap->indent;
  wrap->started = false;
}

/* Writes one word, cutting it where the line is full. */
static void word_write(struct wrap *wrap, struct slice word)
{
  while (word.size > 0) {
    struct escape_part part = escape_next(word);
    if (wrap->column + part.columns > wrap->width && wrap->column > wrap->indent)
      line_break(wrap);
    fputs(part.text, wrap->out);
    wrap->column += part.columns;
    word = slice_part(word, part.used, word.size);
  }
  wrap->started = true;
}

void wrap_add(struct wrap *wrap, struct slice text)
{
  for (blanks_skip(&text); text.size > 0; blanks_skip(&text)) {
    size_t size = word_size(text);
    struct slice word = slice_part(text, 0, size), unit = {"", 0};
    text = slice_part(text, size, text.size);
    if (is_number(word)) {
      blanks_skip(&text);
      unit = slice_part(text, 0, word_size(text));
      text = slice_part(text, unit.size, text.size);
    }
    size_t columns = escape_columns(word) + (unit.size > 0 ? 1 + escape_columns(unit) : 0);
    size_t room = wrap->width > wrap->column ? wrap->width - wrap->column : 0;
    if (wrap->started && columns + 1 > room) {
      line_break(wrap);
    } else if (wrap->started) {
      fputc(' ', wrap->out);
      wrap->column++;
    }
    word_write(wrap, word);
    if (unit.size > 0) {
      bool fits = escape_columns(unit) + 1 <= (wrap->width > wrap->column ? wrap->width - wrap->column : 0);
      if (fits) {
        fputc(' ', wrap->out);
        wrap->column++;
      } else {
        line_break(wrap);
      }
      word_write(wrap, unit);
    }
  }
}

void wrap_to(struct wrap *wrap, unsigned column)
{
  unsigned blanks = wrap->column < column ? column - wrap->column : wrap->started ? 1 : 0;
  if (blanks > 0)
    fprintf(wrap->out, "%*s", (int)blanks, "");
  wrap->column += blanks;
  wrap->started = false;
}

void wrap_mark(struct wrap *wrap, const char *code)
{
  fputs(code, wrap->out);
}

void wrap_close(struct wrap *wrap)
{
  fputc('\n', wrap->out);
  wrap->column = 0;
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
