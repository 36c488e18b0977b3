/* The catalogue of report formats: a new one is one row here and one file. */
#include "report/report.h"

const struct report_format report_formats[] = {
    {"text", "made to be read in a shop, on a terminal or on paper", report_text, report_log_text, report_text_between,
     report_text_total},
    {"json", "one object on one line for each settings file", report_json, report_log_json, NULL, NULL},
    {NULL, NULL, NULL, NULL, NULL, NULL},
};
