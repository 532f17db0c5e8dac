/* The DAC on the simulated board: listens to two open-drain lines, takes two-byte fast writes and writes to its own memory,
 * and says what that holds. */
#ifndef BENCH_DAC_H
#define BENCH_DAC_H

#include <stdbool.h>
#include <stdint.h>

#include <simavr/sim_avr.h>

struct bench_dac {
    /* Set before bench_dac_connect. */
    avr_t *avr;
    char port;
    unsigned sda, scl;      /* bits of the port */
    unsigned port_address; /* of its output register, in RAM */
    uint8_t address;
    void (*on_write)(uint16_t code);
    /* Faults, at any time. */
    bool deaf;     /* answers nothing */
    bool sda_low;  /* the line is shorted to ground */
    bool scl_low;
    bool memory_dead; /* what is written to its memory is lost */
    uint16_t stored;  /* what it comes up with */
    /* What was seen. */
    uint64_t writes;
    uint64_t driven_high; /* a line was driven high: against the rules of an open drain */
    uint64_t other_bytes; /* bytes that were no command of this DAC */
    uint64_t stores;      /* writes to its memory */
};

void bench_dac_connect(struct bench_dac *dac);

/* To be called when a fault has changed. */
void bench_dac_faults_changed(void);

/* To be called after a reset of the part, before its first instruction. */
void bench_dac_board_was_reset(void);

#endif
