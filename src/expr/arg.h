/* What the checks of functions share: arguments that must be of a kind, and types of results. Private to expr/. */
#ifndef KEYWAY_EXPR_ARG_H
#define KEYWAY_EXPR_ARG_H

#include "expr/builtin.h"

extern const struct measure measure_plain, measure_seconds, measure_radians;

struct measure measure_computed(struct dimension dimension); /* a temperature that is computed is a difference */
struct measure measure_difference(struct measure of);        /* of two such numbers */
struct type type_number(struct measure of, bool series);
struct type type_condition(bool series);

/* Each refuses what is not of its kind, with the place of the argument, and then returns false. */
bool arg_wants(struct checker *checker, const struct expr *arg, bool right, const char *what);
bool arg_number(struct checker *checker, const struct expr *call, size_t i);
bool arg_series(struct checker *checker, const struct expr *call, size_t i);
bool arg_conditions(struct checker *checker, const struct expr *call, size_t i);
bool arg_scalar(struct checker *checker, const struct expr *call, size_t i, struct measure of, const char *what);
bool arg_text(struct checker *checker, const struct expr *call, size_t i);
bool arg_pins(struct checker *checker, const struct expr *call); /* the first one */
bool arg_is_number(const struct expr *arg);

/* The rows of builtin.def whose checks are in builtin_items.c. */
bool check_pin_text(struct checker *checker, struct expr *call);
bool check_pin_has(struct checker *checker, struct expr *call);
bool check_end_x(struct checker *checker, struct expr *call);
bool check_end_y(struct checker *checker, struct expr *call);
bool check_points(struct checker *checker, struct expr *call);
bool check_steps(struct checker *checker, struct expr *call);
bool check_cells(struct checker *checker, struct expr *call);
bool check_along_x(struct checker *checker, struct expr *call);
bool check_along_y(struct checker *checker, struct expr *call);
bool check_axis_steps(struct checker *checker, struct expr *call);
bool check_range_ends(struct checker *checker, struct expr *call);
bool check_changes(struct checker *checker, struct expr *call);
bool check_pins(struct checker *checker, struct expr *call);
bool check_shared_pins(struct checker *checker, struct expr *call);
bool check_spans(struct checker *checker, struct expr *call);
bool check_visits(struct checker *checker, struct expr *call);
bool check_region(struct checker *checker, struct expr *call);

/* The rows whose checks are in thermistor.c. */
bool check_thermistor(struct checker *checker, struct expr *call);
bool check_thermistor_misfit(struct checker *checker, struct expr *call);
bool check_thermistor_equation(struct checker *checker, struct expr *call);
bool check_thermistor_curve(struct checker *checker, struct expr *call);

#endif
