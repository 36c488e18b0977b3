/* The functions of the rule language: one row each in builtin.def. Private to expr/ (and the tool that writes the
 * manual's table). */
#ifndef KEYWAY_EXPR_BUILTIN_H
#define KEYWAY_EXPR_BUILTIN_H

#include "expr/ast.h"
#include "expr/eval.h"

struct checker {
  struct arena *arena;
  const struct names *names;
  const struct locator *locator;
  struct problems *problems;
};

struct builtin {
  const char *name;
  size_t least, most;                                        /* arguments */
  bool (*check)(struct checker *checker, struct expr *call); /* arguments are checked; fills in call->type */
  struct result (*evaluate)(struct evaluation *evaluation, const struct expr *call);
  const char *signature, *about;
};

/* NULL when unknown. */
const struct builtin *builtins_find(struct slice name);
const struct builtin *builtins_nearest(struct slice name);
/* Goes by the log's time: refuses series over records. */
bool builtins_over_time(const struct builtin *builtin);
size_t builtins_count(void);
const struct builtin *builtins_at(size_t index);

/* Refuse with the place of an expression; always false. */
bool check_refuse(struct checker *checker, const struct expr *at, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Both are numbers of one kind (or both conditions, or both texts): the common type, series when either is. */
bool check_common(struct checker *checker, const struct expr *at, const struct type *a, const struct type *b,
                  struct type *out);

#define BUILTIN(symbol, name, least, most, check, signature, about) \
  struct result builtin_##symbol(struct evaluation *evaluation, const struct expr *call);
#include "expr/builtin.def"
#undef BUILTIN

#endif
