/* What libyaml's syntax errors mean to a person who writes settings. Included by text/yaml.c. */
#ifndef KEYWAY_TEXT_COMPLAINT_H
#define KEYWAY_TEXT_COMPLAINT_H

#include "base/problem.h"
#include "base/source.h"

struct complaint {
  const char *problem, *context; /* libyaml's own words; either may be NULL */
  size_t at;                     /* byte where it stopped */
  size_t from;                   /* byte where the thing began that it was reading; SIZE_MAX: not known */
};

/* Adds the problem, with a place, and a hint where the cause can be guessed. */
void complaint_add(const struct complaint *complaint, const struct source *source, struct problems *problems);

/* Line of a byte, from 1. Walks the text from its start. */
size_t complaint_line(struct slice bytes, size_t at);

#endif
