/* Tokens to a tree, by precedence climbing. Reading order: expr_parse, binary, unary, primary. One mistake in the
 * grammar ends an expression: what follows it would be guesswork. */
#include "base/limits.h"
#include "expr/ast.h"
#include "expr/lex.h"

struct parser {
  struct lexer lexer;
  struct token token; /* the one at hand */
  const struct scope_chain *chain;
  unsigned depth;
  bool failed;
};

struct operator_row {
  const char *symbol;
  int level; /* binds tighter when higher */
  enum expr_op op;
};

static const struct operator_row operators[] = {
    {"or", 1, EXPR_OR},      {"and", 2, EXPR_AND},
    {"==", 4, EXPR_EQUAL},   {"!=", 4, EXPR_UNEQUAL},
    {"<", 4, EXPR_LESS},     {"<=", 4, EXPR_LESS_EQUAL},
    {">", 4, EXPR_MORE},     {">=", 4, EXPR_MORE_EQUAL},
    {"in", 4, EXPR_IN},      {"otherwise", 5, EXPR_OTHERWISE},
    {"+", 6, EXPR_ADD},      {"-", 6, EXPR_SUBTRACT},
    {"*", 7, EXPR_MULTIPLY}, {"/", 7, EXPR_DIVIDE},
};
enum { LEVEL_NOT = 3, LEVEL_COMPARE = 4, LEVEL_NEGATE = 8 };

static struct expr *binary(struct parser *parser, int level);

static void advance(struct parser *parser)
{
  parser->token = lexer_next(&parser->lexer);
  if (parser->token.kind == TOKEN_BAD)
    parser->failed = true;
}

static struct expr *refuse(struct parser *parser, const char *message)
{
  if (!parser->failed) {
    struct token *token = &parser->token;
    size_t to = token->to > token->from ? token->to : token->from + 1;
    struct place place = parser->lexer.locator->place(parser->lexer.locator->context, token->from, to);
    if (token->kind == TOKEN_END)
      problems_add(parser->lexer.problems, place, "the expression ends where %s is expected", message);
    else
      problems_add(parser->lexer.problems, place, "'%.*s' stands where %s is expected",
                   SLICE_ARG(slice_part(parser->lexer.text, token->from, token->to)), message);
  }
  parser->failed = true;
  return NULL;
}

static struct expr *refuse_size(struct parser *parser, const char *what)
{
  if (!parser->failed) {
    struct token *token = &parser->token;
    size_t to = token->to > token->from ? token->to : token->from + 1;
    struct place place = parser->lexer.locator->place(parser->lexer.locator->context, token->from, to);
    problems_add(parser->lexer.problems, place, "%s; at most %d are accepted", what, LIMIT_EXPRESSION_DEPTH);
  }
  parser->failed = true;
  return NULL;
}

static bool at_symbol(const struct parser *parser, const char *symbol)
{
  enum token_kind kind = parser->token.kind;
  return (kind == TOKEN_SYMBOL || kind == TOKEN_NAME) && slice_is(parser->token.text, symbol);
}

static struct expr *node(struct parser *parser, enum expr_op op, size_t from)
{
  struct expr *expr = ARENA_NEW(parser->lexer.arena, struct expr);
  expr->op = op;
  expr->from = from;
  expr->to = parser->token.to;
  return expr;
}

static void set_args(struct parser *parser, struct expr *expr, size_t count, struct expr *const *args)
{
  expr->count = count;
  expr->args = ARENA_ARRAY(parser->lexer.arena, count, struct expr *);
  for (size_t i = 0; i < count; i++)
    expr->args[i] = args[i];
}

/* After "(": arguments up to and with ")". The first one is already there for a curve or table. */
static bool arguments(struct parser *parser, struct expr *expr, struct expr *first)
{
  struct expr *args[16];
  size_t count = 0;
  if (first)
    args[count++] = first;
  while (!at_symbol(parser, ")")) {
    if (count == sizeof args / sizeof *args) {
      refuse(parser, "')' after at most 16 arguments");
      return false;
    }
    struct expr *arg = binary(parser, 1);
    if (!arg)
      return false;
    args[count++] = arg;
    if (at_symbol(parser, ","))
      advance(parser);
    else if (!at_symbol(parser, ")")) {
      refuse(parser, "',' or ')'");
      return false;
    }
  }
  expr->to = parser->token.to;
  set_args(parser, expr, count, args);
  advance(parser);
  return !parser->failed;
}

/* "p.value" once p is known: fields after the first dot. */
static struct expr *fields(struct parser *parser, struct expr *inner, struct slice rest, size_t at)
{
  while (rest.size > 0) {
    size_t end = 0;
    while (end < rest.size && rest.at[end] != '.')
      end++;
    struct expr *field = ARENA_NEW(parser->lexer.arena, struct expr);
    field->op = EXPR_FIELD;
    field->from = inner->from;
    field->to = at + end;
    field->text = slice_part(rest, 0, end);
    set_args(parser, field, 1, &inner);
    inner = field;
    at += end + 1;
    rest = end < rest.size ? slice_part(rest, end + 1, rest.size) : (struct slice){NULL, 0};
  }
  return inner;
}

/* A name that a `let` or `each` of the rule has bound. NULL when none has. */
static struct expr *bound(struct parser *parser, struct slice word, size_t from)
{
  size_t dot = 0;
  while (dot < word.size && word.at[dot] != '.')
    dot++;
  struct slice head = slice_part(word, 0, dot);
  for (const struct scope_chain *link = parser->chain; link; link = link->outer) {
    if (!slice_equal(link->name, head))
      continue;
    struct expr *expr = ARENA_NEW(parser->lexer.arena, struct expr);
    if (link->value) {
      *expr = *link->value;
      expr->bound = true;
    } else {
      expr->op = EXPR_ITEM;
      expr->text = head;
      expr->type = link->type;
    }
    expr->from = from;
    expr->to = from + dot;
    if (dot == word.size)
      return expr;
    return fields(parser, expr, slice_part(word, dot + 1, word.size), from + dot + 1);
  }
  return NULL;
}

static bool starts(struct slice word, const char *prefix)
{
  size_t size = strlen(prefix);
  return word.size > size && memcmp(word.at, prefix, size) == 0;
}

/* The functions whose last argument is a box: highest(EXPR, over NAME from A to B, NAME from A to B). */
static bool takes_a_box(struct slice word)
{
  return slice_is(word, "highest") || slice_is(word, "lowest") || slice_is(word, "where_highest") ||
         slice_is(word, "where_lowest");
}

static bool word(struct parser *parser, const char *text)
{
  if (parser->token.kind != TOKEN_NAME || !slice_is(parser->token.text, text)) {
    refuse(parser, arena_print(parser->lexer.arena, "'%s'", text));
    return false;
  }
  advance(parser);
  return !parser->failed;
}

/* Skips to the `over` of the box; the expression before it is parsed later, when its variables are known. */
static bool skip_to_over(struct parser *parser)
{
  for (size_t depth = 0; !parser->failed; advance(parser)) {
    if (parser->token.kind == TOKEN_END)
      break;
    if (depth == 0 && parser->token.kind == TOKEN_NAME && slice_is(parser->token.text, "over"))
      return true;
    if (at_symbol(parser, "("))
      depth++;
    if (at_symbol(parser, ")")) {
      if (depth == 0)
        break;
      depth--;
    }
  }
  refuse(parser, "', over NAME from A to B'");
  return false;
}

/* "NAME from A to B", up to and with the ")". Ends of the ranges go to args[1...]. The variables are known in EXPR
 * only. */
static bool box_ranges(struct parser *parser, struct expr **args, size_t *count, const struct scope_chain **chain)
{
  *chain = parser->chain;
  for (;;) {
    if (parser->token.kind != TOKEN_NAME || *count + 2 > 15) {
      refuse(parser, "the name of at most 7 variables");
      return false;
    }
    struct expr *variable = node(parser, EXPR_VARIABLE, parser->token.from);
    variable->text = parser->token.text;
    advance(parser);
    struct expr *ends[2];
    if (!word(parser, "from") || !(ends[0] = binary(parser, 1)) || !word(parser, "to") ||
        !(ends[1] = binary(parser, 1)))
      return false;
    set_args(parser, variable, 2, ends);
    args[(*count)++] = ends[0];
    args[(*count)++] = ends[1];
    struct scope_chain *link = ARENA_NEW(parser->lexer.arena, struct scope_chain);
    *link = (struct scope_chain){variable->text, variable, variable->type, *chain};
    *chain = link;
    if (!at_symbol(parser, ","))
      break;
    advance(parser);
  }
  return at_symbol(parser, ")") || refuse(parser, "',' or ')'") != NULL;
}

/* After "highest(". */
static struct expr *box_call(struct parser *parser, struct expr *expr)
{
  struct lexer start = parser->lexer;
  struct token first = parser->token;
  const struct scope_chain *outer = parser->chain, *inner = outer;
  struct expr *args[16];
  size_t count = 1;
  if (!skip_to_over(parser))
    return NULL;
  advance(parser);
  if (!box_ranges(parser, args, &count, &inner))
    return NULL;
  struct lexer end = parser->lexer;
  struct token close = parser->token;
  parser->lexer = start;
  parser->token = first;
  parser->chain = inner;
  args[0] = binary(parser, 1);
  if (!args[0])
    return NULL;
  if (!at_symbol(parser, ","))
    return refuse(parser, "', over NAME from A to B'");
  parser->lexer = end;
  parser->token = close;
  parser->chain = outer;
  expr->to = close.to;
  expr->boxed = true;
  set_args(parser, expr, count, args);
  advance(parser);
  return parser->failed ? NULL : expr;
}

/* A word that starts like a name of the vocabulary, so that the checker looks it up. */
static bool is_vocabulary_name(struct slice word)
{
  return starts(word, "tune.") || starts(word, "log.") || starts(word, "job.") || starts(word, "limit.") ||
         starts(word, "before.") || starts(word, "phase.");
}

/* After a word that is nothing else: a function's arguments. */
static struct expr *call(struct parser *parser, struct expr *expr, const struct token *name)
{
  if (at_symbol(parser, "(")) {
    advance(parser);
    if (takes_a_box(name->text))
      return box_call(parser, expr);
    return arguments(parser, expr, NULL) ? expr : NULL;
  }
  struct place place = parser->lexer.locator->place(parser->lexer.locator->context, name->from, name->to);
  if (!parser->failed) {
    problems_add(parser->lexer.problems, place, "'%.*s' is not a name of this rule", SLICE_ARG(name->text));
    problems_hint(parser->lexer.problems,
                  "settings start with tune., channels with log., facts and readings with job., "
                  "thresholds with limit., phases with phase.; texts are quoted");
  }
  parser->failed = true;
  return NULL;
}

static struct expr *named(struct parser *parser)
{
  struct token name = parser->token;
  struct expr *expr = node(parser, EXPR_NAME, name.from);
  expr->text = name.text;
  struct expr *local = NULL;
  if (slice_is(name.text, "true") || slice_is(name.text, "false")) {
    expr->op = EXPR_SWITCH;
    expr->on = slice_is(name.text, "true");
  } else if (slice_is(name.text, "stage")) {
    expr->op = EXPR_STAGE;
  } else if (!is_vocabulary_name(name.text)) {
    local = bound(parser, name.text, name.from);
    expr->op = EXPR_CALL; /* when it is not bound */
  }
  advance(parser);
  if (expr->op == EXPR_CALL && !local)
    return call(parser, expr, &name);
  expr = local ? local : expr;
  if (!at_symbol(parser, "("))
    return expr;
  struct expr *apply = node(parser, EXPR_APPLY, name.from);
  advance(parser);
  return arguments(parser, apply, expr) ? apply : NULL;
}

/* ["a", "b"] */
static struct expr *texts(struct parser *parser)
{
  struct expr *expr = node(parser, EXPR_TEXTS, parser->token.from);
  struct slice *items = NULL;
  size_t capacity = 0;
  advance(parser);
  while (!at_symbol(parser, "]")) {
    if (parser->token.kind != TOKEN_TEXT)
      return refuse(parser, "a quoted text or ']'");
    items = arena_grow(parser->lexer.arena, items, expr->text_count, &capacity, sizeof *items);
    items[expr->text_count++] = parser->token.text;
    advance(parser);
    if (at_symbol(parser, ","))
      advance(parser);
    else if (!at_symbol(parser, "]"))
      return refuse(parser, "',' or ']'");
  }
  expr->texts = items;
  expr->to = parser->token.to;
  advance(parser);
  return expr;
}

static struct expr *primary(struct parser *parser)
{
  struct expr *expr = NULL;
  switch (parser->token.kind) {
  case TOKEN_NUMBER:
    expr = node(parser, EXPR_NUMBER, parser->token.from);
    expr->number = parser->token.number;
    advance(parser);
    return expr;
  case TOKEN_TEXT:
    expr = node(parser, EXPR_TEXT, parser->token.from);
    expr->text = parser->token.text;
    advance(parser);
    return expr;
  case TOKEN_NAME:
    return named(parser);
  default:
    break;
  }
  if (at_symbol(parser, "["))
    return texts(parser);
  if (!at_symbol(parser, "("))
    return refuse(parser, "a value");
  size_t from = parser->token.from;
  advance(parser);
  expr = binary(parser, 1);
  if (!expr)
    return NULL;
  if (!at_symbol(parser, ")"))
    return refuse(parser, "')'");
  expr->from = from;
  expr->to = parser->token.to;
  advance(parser);
  return expr;
}

static struct expr *prefixed(struct parser *parser, enum expr_op op, int level)
{
  struct expr *expr = node(parser, op, parser->token.from);
  expr->op_from = parser->token.from;
  expr->op_to = parser->token.to;
  advance(parser);
  struct expr *inner = binary(parser, level);
  if (!inner)
    return NULL;
  expr->to = inner->to;
  set_args(parser, expr, 1, &inner);
  return expr;
}

static struct expr *unary(struct parser *parser)
{
  if (at_symbol(parser, "not") && parser->token.kind == TOKEN_NAME)
    return prefixed(parser, EXPR_NOT, LEVEL_NOT);
  if (at_symbol(parser, "-"))
    return prefixed(parser, EXPR_NEGATE, LEVEL_NEGATE);
  return primary(parser);
}

static const struct operator_row *operator_at(const struct parser *parser)
{
  for (size_t i = 0; i < sizeof operators / sizeof *operators; i++) {
    if (at_symbol(parser, operators[i].symbol))
      return &operators[i];
  }
  return NULL;
}

static struct expr *binary(struct parser *parser, int level)
{
  if (++parser->depth > LIMIT_EXPRESSION_DEPTH)
    return refuse_size(parser, "too many levels of brackets and operators here");
  struct expr *left = unary(parser);
  const struct operator_row *row = NULL;
  size_t chained = 0;
  while (left && !parser->failed && (row = operator_at(parser)) != NULL && row->level >= level) {
    if (++chained > LIMIT_EXPRESSION_DEPTH) /* the tree leans left: its depth is the number of operators */
      return refuse_size(parser, "too many operators in a row here");
    struct expr *expr = node(parser, row->op, left->from);
    expr->op_from = parser->token.from;
    expr->op_to = parser->token.to;
    advance(parser);
    struct expr *right = binary(parser, row->level + 1);
    if (!right)
      return NULL;
    expr->to = right->to;
    struct expr *pair[2] = {left, right};
    set_args(parser, expr, 2, pair);
    left = expr;
    if (row->level == LEVEL_COMPARE && operator_at(parser) && operator_at(parser)->level == LEVEL_COMPARE)
      return refuse(parser, "the end of the comparison (comparisons do not chain: use 'and')");
  }
  parser->depth--;
  return parser->failed ? NULL : left;
}

struct expr *expr_parse(struct arena *arena, struct slice text, const struct scope_chain *chain,
                        const struct locator *locator, struct problems *problems)
{
  struct parser parser = {.lexer = {arena, text, 0, locator, problems}, .chain = chain};
  if (text.size > LIMIT_EXPRESSION_BYTES) {
    problems_add(problems, locator->place(locator->context, 0, 1), "this expression has %zu bytes; the limit is %d",
                 text.size, LIMIT_EXPRESSION_BYTES);
    return NULL;
  }
  advance(&parser);
  struct expr *expr = binary(&parser, 1);
  if (!expr || parser.failed)
    return NULL;
  if (parser.token.kind != TOKEN_END)
    return refuse(&parser, "an operator or the end");
  return expr;
}
