/* From the controls to one command for the motor: reads the constants block, watches the inputs, and blends
 * them. C99, freestanding, integers only, no heap, no recursion.
 *
 * Belongs here: what the numbers of the block mean, step by step. Does not belong here: any hardware (the
 * functions below reach it), choosing the numbers. src/twin in the program does the same arithmetic, bit for bit.
 *
 * Use:
 *     static struct pp_core core;
 *     pp_write_dac(0);                         first of all
 *     pp_start(&core, &board, PP_NO_CAUSE);
 *     for (;;) { wait for the next 1 / rate_hz; pp_step(&core); }
 */
#ifndef PP_BLEND_H
#define PP_BLEND_H

#include <stdbool.h>
#include <stdint.h>

#include "layout.h"

/* Most inputs, check tracks included. Each costs 28 bytes of RAM. */
#ifndef PP_MAX_INPUTS
#define PP_MAX_INPUTS 3
#endif

/* Most straight pieces of all curves together; a curve with no points between its ends has one. Each costs
 * 8 bytes of RAM. */
#ifndef PP_MAX_SEGMENTS
#define PP_MAX_SEGMENTS 16
#endif

/* What pp_input_code answers when the reading failed. No window reaches it. */
#define PP_UNREAD 0xFFFFu

/* What the caller knows of the board. */
struct pp_board {
    uint16_t rate_hz; /* steps a second */
    uint8_t adc_bits, dac_bits;
};

/* What the caller supplies: bound when it is linked, so that no bit of the memory can change where a call goes. */
void pp_read_block(uint16_t at, void *into, uint8_t bytes); /* bytes of the block, counted from its first */
uint16_t pp_input_code(uint8_t input);                      /* one reading of that input, or PP_UNREAD */
uint16_t pp_supply_code(void);                              /* one reading of the part's own reference */
uint16_t pp_read_back(void);      /* one of the DAC's output, as the DAC code that it is; without that wire: `written` */
bool pp_write_dac(uint16_t code); /* false when the DAC did not take it */
void pp_pulse(void);              /* changes the level of the enable line: in every running step, at no other time */
void pp_kick_watchdog(void);      /* at the end of every whole step */

enum pp_state {
    PP_WAITING = 0, /* output off until the start condition was seen */
    PP_RUNNING = 1, /* output follows the inputs, enable line alive */
    PP_STOPPED = 2  /* DAC code 0, enable line dead, until power is cycled */
};

/* Why it is stopped. The numbers are what the board shows. */
enum pp_cause {
    PP_NO_CAUSE = 0,
    PP_BLOCK_MAGIC = 1,   /* no block there */
    PP_BLOCK_VERSION = 2, /* of another version than this core reads */
    PP_BLOCK_LENGTH = 3,  /* length impossible, or more than this core was built for */
    PP_BLOCK_CRC = 4,     /* check sum wrong */
    PP_BLOCK_INPUTS = 5,  /* more inputs or more curve than this core was built for */
    PP_BLOCK_BOARD = 6,   /* for a board with other ADC bits, DAC bits or rate */
    PP_BLOCK_VALUE = 7,   /* an impossible number */
    PP_OUTSIDE = 8,       /* an input outside its window */
    PP_TRACKS = 9,        /* a check track disagrees */
    PP_DAC = 10,          /* the DAC did not take what was written */
    PP_WATCHDOG = 11,     /* the program hung before this start: only the board can say so */
    PP_RESET = 12,        /* a reset while it ran: only the board can say so */
    PP_DAC_MEMORY = 13,   /* the DAC's own value at power-up is not 0 and stays so: only the board can say so */
    PP_READ_BACK = 14,    /* the DAC's output is not what was written */
    PP_SUPPLY = 15,       /* the supply is outside its limits */
    PP_MEMORY = 16        /* a bit of this core's memory has changed */
};

/* A straight piece of a curve. */
struct pp_segment {
    struct pp_point to; /* where it ends: travel from the rest edge, and the command there */
    /* Q15 a code, with 16 more bits of fraction, rounded down */
    uint16_t slope_low, slope_high;
};

/* An input's numbers: nothing here changes after the start. */
struct pp_input {
    struct pp_record is;
    union {
        struct {
            uint16_t span; /* codes from the rest edge to the full edge */
            const struct pp_segment *curve;
        } factor;
        struct {
            uint16_t inverse; /* partner's codes for one of this track's, Q8, at most 0xFFFF */
            bool turned;      /* this track's code falls with its partner's travel */
        } check;
    } made;
};

/* What an input is at. */
struct pp_live {
    uint16_t code;     /* of this sample */
    uint16_t lag;      /* codes that the furthest check track behind it is behind */
    uint16_t sum;      /* the filter: value x 2^shift */
    uint16_t filtered; /* the filter's value, in codes */
    uint16_t guard;    /* sum + filtered + guard is 0 */
};

/* Bytes that are summed at a time: what is summed is a multiple of it. */
#define PP_SUM_CHUNK 4u

/* All that never changes after the start, and is summed up again at least sixteen times a second. */
struct pp_constants {
    struct pp_header is;
    uint16_t dac_zero; /* 0 until a block was accepted */
    uint16_t dac_wait; /* what is put out while waiting */
    uint16_t dac_span;
    uint8_t pace;      /* chunks that are summed in a step */
    bool has_checks;
    struct pp_input input[PP_MAX_INPUTS];
    struct pp_segment segment[PP_MAX_SEGMENTS];
    uint8_t pad[PP_SUM_CHUNK];
};
#define PP_SUM_CHUNKS (sizeof(struct pp_constants) / PP_SUM_CHUNK)
typedef char pp_sums_up[PP_SUM_CHUNKS < 0xFFu ? 1 : -1]; /* counted in a byte */

/* State and cause come first: a debugger finds them at the address of the core. */
struct pp_core {
    uint8_t state; /* enum pp_state */
    uint8_t cause; /* enum pp_cause */
    uint8_t not_state;
    bool dac_failed;      /* the last write was not taken */
    uint16_t command;     /* Q15, after the limits */
    uint16_t not_command;
    uint16_t written;     /* what the DAC has taken last */
    uint16_t start_seen;  /* samples in a row with the start input at its zero end */
    uint16_t suspicion;   /* up by one with a bad sample, down by one with a good one */
    uint8_t summed;       /* chunks of the constants that are in `sum` and `sums` */
    uint8_t sum, sums;
    uint8_t right_sum, right_sums;
    struct pp_constants constant;
    struct pp_live live[PP_MAX_INPUTS];
};

/* Writes zero to the DAC, then reads and checks the block. Waiting after it, or stopped: with the block's cause
 * when the block is refused, else with `latched` unless that is PP_NO_CAUSE (a stop from before a reset that was
 * no power cycle). */
void pp_start(struct pp_core *core, const struct pp_board *board, enum pp_cause latched);

/* One sample of everything, one write to the DAC, a change of the enable line when running, one kick of the watchdog. */
void pp_step(struct pp_core *core);

/* Sets the state with its complement. */
void pp_become(struct pp_core *core, enum pp_state state, enum pp_cause cause);

/* Sums the next chunks of the constants; true when it came to their end. */
bool pp_sum_on(struct pp_core *core, uint8_t chunks);

/* Whether a code is in its window. */
bool pp_is_inside(const struct pp_window *window, uint16_t code);

/* Codes from the rest edge towards the full edge, 0 at and before the rest edge. */
uint16_t pp_travel_of(const struct pp_factor *is, uint16_t code);

/* Before a function of the core that is to stay one: inlined it would cost the others registers or flash. */
#ifdef __GNUC__
#define PP_APART __attribute__((noinline))
#else
#define PP_APART
#endif

#endif
