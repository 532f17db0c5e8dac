/* The two kinds of line that the streamer sends.
 *
 * Belongs here: the text of header and sample, and the check sum. Does not belong here: timing, the port. */
#ifndef LINE_H
#define LINE_H

#include <stdbool.h>

#include "sampler.h"

/* `# pedalproof 1 bits=10 vref_mv=... rate_hz=... cols=t_us,...*HH`. False when it was dropped. */
bool line_send_header(void);

/* `t_us,code,code...*HH`. False when it was dropped. */
bool line_send_sample(const struct sample *sample);

#endif
