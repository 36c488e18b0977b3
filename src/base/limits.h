/* Every limit, with its reason. tests/limits holds a case at each limit and one past it. */
#ifndef KEYWAY_BASE_LIMITS_H
#define KEYWAY_BASE_LIMITS_H

/* Bytes of one YAML file. The largest real export seen in the trade is under 2 MB; 8 MB parses in a quarter of a
 * second. */
#define LIMIT_YAML_BYTES (8u * 1024 * 1024)
/* Bytes of one scalar: a long note fits, a file pasted into a value does not. */
#define LIMIT_YAML_SCALAR (64u * 1024)
/* Nested levels: our deepest shape uses 6; libyaml itself recurses no deeper than this allows. */
#define LIMIT_YAML_DEPTH 24
/* Nodes of one file: 40 tables of 64 x 64 are 164 000. */
#define LIMIT_YAML_NODES 1000000
/* Problems kept for one run: a person mends the first ones first. */
#define LIMIT_PROBLEMS 200
/* Points of an axis, rows and columns of a table: four times the largest in the trade. */
#define LIMIT_AXIS 256
/* Items of a list, pins of a map, records of a reading. */
#define LIMIT_ITEMS 4096
/* Bytes of one log. Places are 64 bits wide; this keeps a wrong file from filling memory. */
#define LIMIT_LOG_BYTES (2048ull * 1024 * 1024)
/* Columns of a log. */
#define LIMIT_LOG_COLUMNS 1024
/* Bytes of one log line. */
#define LIMIT_LOG_LINE (256u * 1024)
/* Rows of a log: more than three days at 25 samples a second. Rows of two bytes each would else fill memory, since
 * every channel keeps a place for every row. */
#define LIMIT_LOG_ROWS 8000000
/* Bytes of a rule's expression: the longest shipped one is under 400. */
#define LIMIT_EXPRESSION_BYTES 4096
/* Nested levels of an expression; the parser and the evaluator recurse this deep. */
#define LIMIT_EXPRESSION_DEPTH 64
/* The same, and all operators and operands, with every `let` written out: forty of them, each twice the one before,
 * would be a million million. The longest shipped one has under 300. */
#define LIMIT_EXPRESSION_WHOLE_DEPTH 256
#define LIMIT_EXPRESSION_WHOLE 100000
/* Bytes of one pattern: the longest shipped one is under 100. */
#define LIMIT_PATTERN_BYTES 1024
/* Steps and depth of one match (PCRE2's own counts): a heading or path is short, the longest text is the 4096 numbers
 * of a 64 x 64 table, where a repeated group takes one level a number; a pattern that needs more is a trap. */
#define LIMIT_PATTERN_STEPS 100000
#define LIMIT_PATTERN_DEPTH 10000
/* Bytes of an export; records of it; bytes of one record's path or text. */
#define LIMIT_EXPORT_BYTES (32u * 1024 * 1024)
#define LIMIT_RECORDS 1000000
#define LIMIT_RECORD_BYTES (64u * 1024)
/* Nested levels of an export's XML: the deepest seen in the trade is 9. JSON and YAML: LIMIT_YAML_DEPTH. */
#define LIMIT_RECORD_DEPTH 64
/* Bytes of all paths of an export together: a million of the usual length are 60 MB. A long name over a million short
 * values would otherwise grow 32 MB to as many GB. */
#define LIMIT_RECORD_PATHS (256u * 1024 * 1024)
/* Processor time that the patterns of one adapter may take on one export: a thousand times what a large one needs. */
#define LIMIT_ADAPTER_SECONDS 20
/* Rules of all packs together. */
#define LIMIT_RULES 4096
/* Phases of all packs together, and levels of phases that use phases: the shipped ones are 12 and go 3 deep. */
#define LIMIT_PHASES 256
#define LIMIT_PHASE_DEPTH 16
/* Samples that Theil-Sen takes: all pairs of this many are 130 816. */
#define LIMIT_ROBUST_SAMPLES 512

#endif
