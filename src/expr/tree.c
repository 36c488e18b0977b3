/* What those who hold a checked expression may ask of it. */
#include "expr/ast.h"

const struct type *expr_type(const struct expr *expr)
{
  return &expr->type;
}

const struct name *expr_name(const struct expr *expr)
{
  return expr->op == EXPR_NAME ? expr->name : NULL;
}

void expr_names(const struct expr *expr, void (*visit)(void *context, const struct name *name), void *context)
{
  if (expr->op == EXPR_NAME)
    visit(context, expr->name);
  for (size_t i = 0; i < expr->count; i++)
    expr_names(expr->args[i], visit, context);
}

void expr_own_names(const struct expr *expr, void (*visit)(void *context, const struct name *name), void *context)
{
  if (expr->phase)
    return;
  if (expr->op == EXPR_NAME)
    visit(context, expr->name);
  for (size_t i = 0; i < expr->count; i++)
    expr_own_names(expr->args[i], visit, context);
}

void expr_phases(const struct expr *expr, void (*visit)(void *context, const struct name *name), void *context)
{
  if (expr->phase)
    visit(context, expr->phase);
  for (size_t i = 0; i < expr->count; i++)
    expr_phases(expr->args[i], visit, context);
}

const struct name *expr_first_name(const struct expr *expr)
{
  if (expr->op == EXPR_NAME && expr->name->scope != NAME_LIMIT)
    return expr->name;
  for (size_t i = 0; i < expr->count; i++) {
    const struct name *name = expr_first_name(expr->args[i]);
    if (name)
      return name;
  }
  return NULL;
}
