/* Parts of JSON reports: keys come in the order in which they are put. Private to report/. */
#ifndef KEYWAY_REPORT_OBJECT_H
#define KEYWAY_REPORT_OBJECT_H

#include "report/report.h"

#include <jansson.h>

struct writer {
  struct arena *arena; /* for this report only */
  struct sources *sources;
  bool failed; /* memory ran out somewhere */
};

/* Gives `value` away. jansson refuses NULL, which is what it gives when memory runs out. */
void object_put(struct writer *writer, json_t *object, const char *key, json_t *value);
void object_append(struct writer *writer, json_t *array, json_t *value);
json_t *object_text(struct writer *writer, struct slice text);
void object_put_text(struct writer *writer, json_t *object, const char *key, const char *text);
void object_put_count(struct writer *writer, json_t *object, const char *key, uint64_t count);
/* JSON has no infinity and no NaN. */
json_t *object_real(double value);
/* `quantity` NULL: there is none. */
void object_put_quantity(struct writer *writer, json_t *object, const char *key, const struct quantity *quantity,
                         const struct unit *unit);
void object_put_unit(struct writer *writer, json_t *object, const char *key, const struct unit *unit);
void object_put_place(struct writer *writer, json_t *object, struct place place);
json_t *object_texts(struct writer *writer, size_t count, const char *const *texts);
/* [{file, line, column, message, hint}], sorted; `problems` NULL: none. */
json_t *object_problems(struct writer *writer, const struct problems *problems);
/* One line; the object is given up. false: memory ran out. */
bool object_write(struct writer *writer, FILE *out, json_t *object);

#endif
