/* Waiting that is not gone through turn by turn. Where the program only looks at a flag, again and again, nothing happens until the
 * simulator's next event: all but the last turns before it are counted and left out. To the cycle and the bit the same as gone
 * through; `bench_harness --every-turn` does so.
 *
 * Such a loop changes nothing but registers, and from one turn to the next none but one that is counted down (sbiw). */
#ifndef BENCH_POLLS_H
#define BENCH_POLLS_H

#include <simavr/sim_avr.h>

/* To be told before each instruction. Time then stands before the event, and before the cycle `until`. */
void bench_polls_look(avr_t *avr, avr_cycle_count_t until);

/* What is outside the part has changed: what was seen of a loop counts no more. */
void bench_polls_forget(void);

#endif
