/* Which byte of the constants block is where. BLOCK.md says the same in words; a test holds both, and the writer
 * in src/constants/layout.rs, to one table.
 *
 * A block is: the header; one record per input; the curve points of the inputs, in the order of the inputs; the
 * check sum. Numbers are little-endian, and each lies at a multiple of its own size from the start of its part: so
 * a little-endian part copies header, records and points straight into the structs below. */
#ifndef PP_LAYOUT_H
#define PP_LAYOUT_H

#include <stddef.h>
#include <stdint.h>

#if defined(__BYTE_ORDER__) && __BYTE_ORDER__ != __ORDER_LITTLE_ENDIAN__
#error "the block is copied as it lies: this needs a little-endian part"
#endif

#define PP_MAGIC 0x4B425050u /* "PPBK" */
#define PP_VERSION 2u

/* Header. */
#define PP_AT_MAGIC 0u
#define PP_AT_VERSION 4u
#define PP_AT_INPUTS 5u
#define PP_AT_LENGTH 6u
#define PP_AT_ADC_BITS 8u
#define PP_AT_DAC_BITS 9u
#define PP_AT_RATE_HZ 10u
#define PP_AT_DAC_ZERO 12u
#define PP_AT_DAC_FULL 14u
#define PP_AT_RISE 16u
#define PP_AT_FALL 18u
#define PP_AT_START_SAMPLES 20u
#define PP_AT_PERSISTENCE 22u
#define PP_AT_START_INPUT 24u
#define PP_AT_FLAGS 25u
#define PP_AT_SUPPLY_LOW 26u
#define PP_AT_SUPPLY_HIGH 28u
#define PP_AT_READ_BACK 30u
#define PP_HEADER_BYTES 32u

/* Input record, from its own first byte. What lies at 4 .. 9 depends on the partner. */
#define PP_IN_WINDOW_LOW 0u
#define PP_IN_WINDOW_HIGH 2u
#define PP_IN_REST_EDGE 4u    /* of a factor */
#define PP_IN_FULL_EDGE 6u    /* of a factor */
#define PP_IN_FILTER_SHIFT 8u /* of a factor */
#define PP_IN_POINTS 9u       /* of a factor */
#define PP_IN_GAIN 4u         /* of a check track */
#define PP_IN_OFFSET 6u       /* of a check track */
#define PP_IN_BAND 8u         /* of a check track */
#define PP_IN_PARTNER 10u
#define PP_INPUT_BYTES 11u

/* Curve point, from its own first byte. */
#define PP_POINT_CODE 0u
#define PP_POINT_VALUE 2u
#define PP_POINT_BYTES 4u

/* The check sum ends the block: CRC-16/IBM-3740 of every byte before it. */
#define PP_CRC_BYTES 2u

#define PP_MULTIPLIES 0xFFu /* as partner: not a check track but a factor of the command */
#define PP_ONE 0x8000u      /* 1 in Q15 */

/* Flags. Any other bit is refused. */
#define PP_WAITS_AT_ZERO 0x01u /* waiting puts out dac_zero, because the controller faults on code 0 */

struct pp_window {
    uint16_t low, high; /* both are inside */
};

struct pp_header {
    uint32_t magic;
    uint8_t version;
    uint8_t inputs;
    uint16_t length;
    uint8_t adc_bits, dac_bits;
    uint16_t rate_hz;
    uint16_t dac_zero, dac_full;
    uint16_t rise, fall;    /* Q15 a step */
    uint16_t start_samples;
    uint16_t persistence;   /* samples */
    uint8_t start_input;
    uint8_t flags;
    struct pp_window supply;          /* of the readings of the part's own reference */
    uint16_t read_back;               /* largest departure of the DAC's output from what was written, DAC codes */
};

struct pp_factor {
    uint16_t rest_edge, full_edge; /* codes where its command leaves 0 and reaches 1 */
    uint8_t filter_shift;
    uint8_t points; /* of its curve, between the edges */
};

struct pp_check {
    int16_t gain; /* Q12 */
    int16_t offset; /* codes */
    uint16_t band; /* codes */
};

struct pp_record {
    struct pp_window window;
    union {
        struct pp_factor factor;
        struct pp_check check;
    } as;
    uint8_t partner; /* the input that this check track must agree with, or PP_MULTIPLIES: a factor */
};

struct pp_point {
    uint16_t code;  /* in the block; travel from the rest edge in the core */
    uint16_t value; /* Q15 */
};

/* Does not compile when a struct lies otherwise than the block. */
#define PP_LIES(type, member, at, name) typedef char pp_lies_##name[offsetof(struct type, member) == (at) ? 1 : -1]
PP_LIES(pp_header, magic, PP_AT_MAGIC, magic);
PP_LIES(pp_header, version, PP_AT_VERSION, version);
PP_LIES(pp_header, inputs, PP_AT_INPUTS, inputs);
PP_LIES(pp_header, length, PP_AT_LENGTH, length);
PP_LIES(pp_header, adc_bits, PP_AT_ADC_BITS, adc_bits);
PP_LIES(pp_header, dac_bits, PP_AT_DAC_BITS, dac_bits);
PP_LIES(pp_header, rate_hz, PP_AT_RATE_HZ, rate_hz);
PP_LIES(pp_header, dac_zero, PP_AT_DAC_ZERO, dac_zero);
PP_LIES(pp_header, dac_full, PP_AT_DAC_FULL, dac_full);
PP_LIES(pp_header, rise, PP_AT_RISE, rise);
PP_LIES(pp_header, fall, PP_AT_FALL, fall);
PP_LIES(pp_header, start_samples, PP_AT_START_SAMPLES, start_samples);
PP_LIES(pp_header, persistence, PP_AT_PERSISTENCE, persistence);
PP_LIES(pp_header, start_input, PP_AT_START_INPUT, start_input);
PP_LIES(pp_header, flags, PP_AT_FLAGS, flags);
PP_LIES(pp_header, supply.low, PP_AT_SUPPLY_LOW, supply_low);
PP_LIES(pp_header, supply.high, PP_AT_SUPPLY_HIGH, supply_high);
PP_LIES(pp_header, read_back, PP_AT_READ_BACK, read_back);
PP_LIES(pp_record, window.low, PP_IN_WINDOW_LOW, window_low);
PP_LIES(pp_record, window.high, PP_IN_WINDOW_HIGH, window_high);
PP_LIES(pp_record, as.factor.rest_edge, PP_IN_REST_EDGE, rest_edge);
PP_LIES(pp_record, as.factor.full_edge, PP_IN_FULL_EDGE, full_edge);
PP_LIES(pp_record, as.factor.filter_shift, PP_IN_FILTER_SHIFT, filter_shift);
PP_LIES(pp_record, as.factor.points, PP_IN_POINTS, points);
PP_LIES(pp_record, as.check.gain, PP_IN_GAIN, gain);
PP_LIES(pp_record, as.check.offset, PP_IN_OFFSET, offset);
PP_LIES(pp_record, as.check.band, PP_IN_BAND, band);
PP_LIES(pp_record, partner, PP_IN_PARTNER, partner);
PP_LIES(pp_point, code, PP_POINT_CODE, code);
PP_LIES(pp_point, value, PP_POINT_VALUE, value);

#endif
