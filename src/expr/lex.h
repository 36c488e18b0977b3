/* Tokens of the rule language. Private to expr/. */
#ifndef KEYWAY_EXPR_LEX_H
#define KEYWAY_EXPR_LEX_H

#include "expr/expr.h"

enum token_kind {
  TOKEN_END,
  TOKEN_NUMBER, /* with its unit */
  TOKEN_TEXT,
  TOKEN_NAME,   /* letters, digits, "_" and "." */
  TOKEN_SYMBOL, /* ( ) [ ] , + - * / < <= > >= == != */
  TOKEN_BAD     /* already reported */
};

struct token {
  enum token_kind kind;
  size_t from, to;
  struct quantity number;
  struct slice text; /* NAME, SYMBOL: as written; TEXT: without its quotes */
};

struct lexer {
  struct arena *arena;
  struct slice text;
  size_t at;
  const struct locator *locator;
  struct problems *problems;
};

struct token lexer_next(struct lexer *lexer);

#endif
