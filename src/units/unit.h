/* Units and quantities. May be included by: every room but base and text.
 * Rows of units are in unit.def. Everything here is immutable or lives in the caller's arena; thread-safe with one
 * arena a thread. */
#ifndef KEYWAY_UNITS_UNIT_H
#define KEYWAY_UNITS_UNIT_H

#include "base/arena.h"
#include "base/slice.h"

#include <stdbool.h>
#include <stdint.h>

/* Exponents of the base dimensions. Angle and mixture (lambda) count as dimensions of their own, so that degrees,
 * percent and lambda are never mixed up; a revolution is 360 degrees, so rpm is angle by time. */
enum base_dimension { DIM_LENGTH, DIM_MASS, DIM_TIME, DIM_CURRENT, DIM_TEMPERATURE, DIM_ANGLE, DIM_MIXTURE, DIM_COUNT };

struct dimension {
  int8_t of[DIM_COUNT];
};

/* A temperature and a temperature difference are different things. Everything that is not exactly one temperature has
 * sense SENSE_PLAIN. */
enum unit_sense {
  SENSE_PLAIN,      /* not a temperature */
  SENSE_POINT,      /* a temperature: degC, degF */
  SENSE_DIFFERENCE, /* a temperature difference: degC_diff, degF_diff */
  SENSE_EITHER      /* K: the context decides */
};

struct unit {
  const char *name; /* as printed: "kPa", "degC", "%", "deg/kPa" */
  const char *ucum; /* UCUM code, for machine-readable output; NULL when it has none */
  struct dimension dimension;
  enum unit_sense sense;
  double factor; /* base value = value * factor + offset; base units are SI (rad, K, m, kg, s, A, lambda) */
  double offset; /* not 0 only for SENSE_POINT */
};

struct quantity {
  double value;            /* in base units */
  const struct unit *unit; /* the unit it was written in; never NULL in a quantity that was read */
};

/* The unit of that name or alias, as typed by people; NULL when unknown. "°C", "C", "degC" and "deg C" are one unit.
 * Case matters only where it must: "KPA", "Rpm" and "MV" are accepted, "mPa" and "Ms" are not. Not for composed units:
 * see unit_read. */
const struct unit *unit_find(struct slice name);

/* The unit whose spelling is nearest, for "did you mean"; NULL when none is near. */
const struct unit *unit_nearest(struct slice name);

/* Reads a unit, plain or composed with "/", "." or "*" and whole exponents ("deg/kPa", "g/(kW.h)", "cm3/min", "%/s").
 * Composed ones live in `arena`. NULL on refusal: then *why is one line ("unknown unit 'kpo'; did you mean 'kPa'?")
 * that lives in `arena` or is static. Refused with the way out: air-fuel ratios, gauge pressures, gallons of no
 * country. Offset units never compose: "degC/s" means degC_diff/s. "1/min" alone is rpm. "a/b.c" is refused: a/(b.c) is
 * meant more often than the (a/b).c that UCUM reads. */
const struct unit *unit_read(struct arena *arena, struct slice text, const char **why);

/* Reads "10 deg", "170degF", "-4.5e-1 deg/kPa"; a bare number takes `bare`, and is refused when that is
 * NULL. false on refusal, *why as above. */
bool quantity_read(struct arena *arena, struct slice text, const struct unit *bare, struct quantity *out,
                   const char **why);

double unit_to_base(const struct unit *unit, double value);
double unit_from_base(const struct unit *unit, double base);

bool dimension_equal(struct dimension a, struct dimension b);
bool dimension_is_none(struct dimension d);
struct dimension dimension_times(struct dimension a, struct dimension b, int sign); /* sign -1 divides */
/* "pressure", "temperature difference", "angle per pressure"; for messages; lives in `arena` or is static. */
const char *dimension_name(struct arena *arena, struct dimension d, enum unit_sense sense);

/* Same dimension, and the senses go together (K goes with both). */
bool unit_agrees(const struct unit *a, const struct unit *b);

/* Why a value in `got` cannot stand where `wanted` is expected, when more can be said than the two dimensions: a mass
 * flow for a volume flow, a temperature for a difference. NULL: nothing to add. Lives in `arena` or is static. */
const char *unit_mismatch_hint(struct arena *arena, const struct unit *got, const struct unit *wanted);

/* Coherent unit of a dimension, composed in `arena`, for values whose source had none. */
const struct unit *unit_of_dimension(struct arena *arena, struct dimension d, enum unit_sense sense);

/* The difference unit that goes with a temperature unit (degC -> degC_diff); any other unit unchanged. */
const struct unit *unit_difference(const struct unit *unit);

/* a/b and a.b composed in `arena`; never NULL. Meant for showing a value that is already in base units: equal units
 * cancel ("deg/kPa" times "kPa" is "deg"), a plain number or percentage leaves the other unit alone, a temperature
 * counts as a difference. */
const struct unit *unit_divide(struct arena *arena, const struct unit *a, const struct unit *b);
const struct unit *unit_multiply(struct arena *arena, const struct unit *a, const struct unit *b);

/* "14.7 psi", "80 degC", "100 %", "5" (unit "1" is not printed; differences print as "K" or "degF" with the word left
 * to the message). `step` > 0 rounds to that step, given in `shown`'s unit; 0 prints up to 6 significant digits.
 * `shown` NULL: q.unit. Returns an arena string. */
const char *quantity_print(struct arena *arena, struct quantity q, const struct unit *shown, double step);
/* "100 to 160 kPa" */
const char *quantity_print_range(struct arena *arena, struct quantity from, struct quantity to);

/* Rows of the table, for the manual and the tests. */
size_t unit_count(void);
const struct unit *unit_at(size_t index);

#endif
