/* Characters to tokens. A number takes the unit that follows it, so that "0.5 deg/kPa" is one token and everything
 * after the parser can count on numbers that know their kind. */
#include "expr/lex.h"

#include "base/number.h"

#include <math.h>

static bool is_letter(char c)
{
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}
static bool is_digit(char c)
{
  return c >= '0' && c <= '9';
}
static bool is_unit_start(char c)
{
  return is_letter(c) || c == '%' || (unsigned char)c >= 0x80;
}

static char peek(const struct lexer *lexer, size_t ahead)
{
  size_t at = lexer->at + ahead;
  return at < lexer->text.size ? lexer->text.at[at] : '\0';
}

static struct place place_of(const struct lexer *lexer, size_t from, size_t to)
{
  return lexer->locator->place(lexer->locator->context, from, to);
}

static bool is_keyword(struct slice word)
{
  static const char *const words[] = {"and", "or", "not", "in", "otherwise", "to"};
  for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
    if (slice_is(word, words[i]))
      return true;
  }
  return false;
}

/* Length of the unit that starts at lexer->at + ahead, 0 when none does. "/" and "." go on only when a letter or "("
 * follows. */
static size_t unit_length(const struct lexer *lexer, size_t ahead)
{
  if (!is_unit_start(peek(lexer, ahead)))
    return 0;
  size_t length = 0, depth = 0;
  for (;; length++) {
    char c = peek(lexer, ahead + length), next = peek(lexer, ahead + length + 1);
    if (is_unit_start(c) || (length > 0 && is_digit(c)))
      continue;
    if ((c == '/' || c == '.') && (is_unit_start(next) || next == '('))
      continue;
    if (c == '(' && length > 0 && peek(lexer, ahead + length - 1) == '/') {
      depth++;
      continue;
    }
    if (c == ')' && depth > 0) {
      depth--;
      continue;
    }
    break;
  }
  struct slice word = {lexer->text.at + lexer->at + ahead, length};
  return is_keyword(word) ? 0 : length;
}

/* Bytes of the digits of a number that number_read refuses. */
static size_t number_length(const struct lexer *lexer)
{
  size_t length = 0;
  for (;; length++) {
    char c = peek(lexer, length), before = length > 0 ? peek(lexer, length - 1) : '\0';
    bool exponent_sign = (c == '+' || c == '-') && (before == 'e' || before == 'E');
    if (!is_digit(c) && c != '.' && c != 'e' && c != 'E' && !exponent_sign)
      return length;
  }
}

static struct token too_large(struct lexer *lexer, struct token *token, size_t length)
{
  problems_add(lexer->problems, place_of(lexer, token->from, token->from + length), "this number is too large");
  lexer->at = token->from + length;
  token->kind = TOKEN_BAD;
  token->to = lexer->at;
  return *token;
}

static struct token number_token(struct lexer *lexer)
{
  struct token token = {.kind = TOKEN_NUMBER, .from = lexer->at};
  struct slice rest = slice_part(lexer->text, lexer->at, lexer->text.size);
  double value = 0;
  size_t used = number_read(rest, '.', &value);
  if (used == 0)
    return too_large(lexer, &token, number_length(lexer));
  lexer->at += used;
  size_t blanks = 0;
  while (peek(lexer, blanks) == ' ')
    blanks++;
  size_t length = unit_length(lexer, blanks);
  const struct unit *unit = unit_find(slice_of("1"));
  if (length > 0) {
    size_t unit_from = lexer->at + blanks;
    struct slice written = slice_part(lexer->text, unit_from, unit_from + length);
    lexer->at = unit_from + length;
    const char *why = NULL;
    unit = unit_read(lexer->arena, written, &why);
    if (!unit) {
      problems_add(lexer->problems, place_of(lexer, unit_from, lexer->at), "%s", why);
      if (memchr(written.at, '/', written.size) != NULL)
        problems_hint(lexer->problems, "a '/' that divides has blanks around it");
      token.kind = TOKEN_BAD;
      token.to = lexer->at;
      return token;
    }
  }
  token.to = lexer->at;
  token.number = (struct quantity){unit_to_base(unit, value), unit};
  if (!isfinite(token.number.value))
    return too_large(lexer, &token, token.to - token.from);
  return token;
}

static struct token text_token(struct lexer *lexer)
{
  struct token token = {.kind = TOKEN_TEXT, .from = lexer->at};
  char quote = peek(lexer, 0);
  lexer->at++;
  while (lexer->at < lexer->text.size && lexer->text.at[lexer->at] != quote)
    lexer->at++;
  if (lexer->at == lexer->text.size) {
    problems_add(lexer->problems, place_of(lexer, token.from, lexer->at), "this text has no closing %c", quote);
    token.kind = TOKEN_BAD;
    token.to = lexer->at;
    return token;
  }
  token.text = slice_part(lexer->text, token.from + 1, lexer->at);
  token.to = ++lexer->at;
  return token;
}

static struct token name_token(struct lexer *lexer)
{
  struct token token = {.kind = TOKEN_NAME, .from = lexer->at};
  while (is_letter(peek(lexer, 0)) || is_digit(peek(lexer, 0)) || (peek(lexer, 0) == '.' && is_letter(peek(lexer, 1))))
    lexer->at++;
  token.to = lexer->at;
  token.text = slice_part(lexer->text, token.from, token.to);
  return token;
}

static struct token symbol_token(struct lexer *lexer)
{
  struct token token = {.kind = TOKEN_SYMBOL, .from = lexer->at};
  char c = peek(lexer, 0);
  bool known = c != '\0' && strchr("()[],+-*/<>=!", c) != NULL;
  size_t length = c != '\0' && strchr("<>=!", c) != NULL && peek(lexer, 1) == '=' ? 2 : 1;
  bool half = (c == '=' || c == '!') && length == 1;
  lexer->at += length;
  while ((unsigned char)peek(lexer, 0) >= 0x80 && (unsigned char)peek(lexer, 0) < 0xC0)
    lexer->at++; /* the rest of a character that is not ours */
  token.to = lexer->at;
  token.text = slice_part(lexer->text, token.from, token.to);
  if (known && !half)
    return token;
  problems_add(lexer->problems, place_of(lexer, token.from, token.to), "'%.*s' is not part of the rule language",
               SLICE_ARG(token.text));
  if (half)
    problems_hint(lexer->problems, c == '=' ? "equal is ==" : "unequal is !=, and 'not' turns a condition round");
  token.kind = TOKEN_BAD;
  return token;
}

struct token lexer_next(struct lexer *lexer)
{
  while (peek(lexer, 0) == ' ' || peek(lexer, 0) == '\n' || peek(lexer, 0) == '\t')
    lexer->at++;
  if (lexer->at >= lexer->text.size)
    return (struct token){.kind = TOKEN_END, .from = lexer->text.size, .to = lexer->text.size};
  char c = peek(lexer, 0);
  if (is_digit(c) || (c == '.' && is_digit(peek(lexer, 1))))
    return number_token(lexer);
  if (c == '"' || c == '\'')
    return text_token(lexer);
  if (is_letter(c))
    return name_token(lexer);
  return symbol_token(lexer);
}
