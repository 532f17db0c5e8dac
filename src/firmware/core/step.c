/* One step: sample, watch, filter, blend, limit, write. No division, no loop that is not bounded by the build.
 *
 * Products are written as ((a * b << 1) + 0x8000) >> 16 and not as (a * b + 0x4000) >> 15: the result is the same
 * and an 8-bit part takes whole bytes instead of shifting 15 times. */
#include "blend.h"

/* a x b in Q15, to the nearest. Exact when either is 0 or 1. */
static uint16_t product(uint16_t a, uint16_t b)
{
    return (uint16_t)((((uint32_t)a * b << 1) + 0x8000u) >> 16);
}

/* Whether a check track reads gain x partner + offset, within its band. Codes are below 2^15, so nothing
 * overflows: 2^16 x 2^12 + 2^15 x 2^15 < 2^31. */
static bool agrees(const struct pp_check *check, uint16_t code, uint16_t partner)
{
    int32_t off = (((int32_t)code - check->offset) * 4096) - (int32_t)check->gain * (int16_t)partner;
    if (off < 0)
        off = -off;
    return off <= (int32_t)check->band << 12;
}

static enum pp_cause judge(const struct pp_core *core, const uint16_t *codes)
{
    const struct pp_input *input = core->input;
    for (uint8_t i = 0; i < core->is.inputs; i++, input++)
        if (codes[i] < input->is.window_low || codes[i] > input->is.window_high)
            return PP_OUTSIDE;
    input = core->input;
    for (uint8_t i = 0; i < core->is.inputs; i++, input++)
        if (input->is.partner != PP_MULTIPLIES && !agrees(&input->is.as.check, codes[i], codes[input->is.partner]))
            return PP_TRACKS;
    return core->dac_failed ? PP_DAC : PP_NO_CAUSE;
}

/* While waiting there is no lag to keep. */
static void follow(struct pp_input *input, uint16_t code)
{
    input->sum = (uint16_t)(code << input->is.as.factor.filter_shift);
    input->filtered = code;
}

/* The filter keeps its fraction: sum is value x 2^shift, so a steady input is reached exactly from both sides. */
static void filter(struct pp_input *input, uint16_t code)
{
    input->sum = (uint16_t)(input->sum + code - input->filtered);
    input->filtered = (uint16_t)(input->sum >> input->is.as.factor.filter_shift);
}

/* Codes from the rest edge towards the full edge, 0 at and before the rest edge. */
static uint16_t travel_of(const struct pp_input *input)
{
    uint16_t travel = (uint16_t)(input->filtered - input->is.as.factor.rest_edge);
    if (input->is.as.factor.full_edge < input->is.as.factor.rest_edge)
        travel = (uint16_t)-travel;
    return travel & 0x8000u ? 0 : travel;
}

/* The input's factor of the command, Q15. */
static uint16_t factor_of(const struct pp_input *input)
{
    const struct pp_segment *segment = input->curve;
    uint16_t travel = travel_of(input);

    if (travel >= input->span)
        return PP_ONE;
    for (uint8_t left = input->is.as.factor.points; left > 0 && travel >= segment[1].from.code; left--)
        segment++;
    uint32_t above = (uint16_t)(travel - segment->from.code) * segment->slope + 0x8000u;
    return (uint16_t)(segment->from.value + (uint16_t)(above >> 16));
}

static void wait_for_start(struct pp_core *core, const uint16_t *codes)
{
    struct pp_input *input = core->input;
    for (uint8_t i = 0; i < core->is.inputs; i++, input++)
        if (input->is.partner == PP_MULTIPLIES)
            follow(input, codes[i]);
    if (travel_of(&core->input[core->is.start_input]) > 0)
        core->start_seen = 0;
    else if (++core->start_seen >= core->is.start_samples)
        core->state = PP_RUNNING;
}

/* The command moves towards the blend of the inputs; up only when nothing is suspected. */
static void run(struct pp_core *core, const uint16_t *codes)
{
    uint16_t target = PP_ONE;
    struct pp_input *input = core->input;
    for (uint8_t i = 0; i < core->is.inputs; i++, input++) {
        if (input->is.partner != PP_MULTIPLIES)
            continue;
        filter(input, codes[i]);
        target = product(target, factor_of(input));
    }
    if (target > core->command) {
        uint16_t up = (uint16_t)(target - core->command);
        if (core->suspicion == 0)
            core->command = (uint16_t)(core->command + (up < core->is.rise ? up : core->is.rise));
    } else {
        uint16_t down = (uint16_t)(core->command - target);
        core->command = (uint16_t)(core->command - (down < core->is.fall ? down : core->is.fall));
    }
}

/* A bad sample touches nothing but the suspicion: the command holds. */
static void take_sample(struct pp_core *core)
{
    uint16_t codes[PP_MAX_INPUTS];
    for (uint8_t i = 0; i < core->is.inputs; i++)
        codes[i] = core->board->input_code(i);

    enum pp_cause cause = judge(core, codes);
    if (cause != PP_NO_CAUSE) {
        core->start_seen = 0;
        if (++core->suspicion >= core->is.persistence) {
            core->state = PP_STOPPED;
            core->cause = (uint8_t)cause;
            core->command = 0;
        }
        return;
    }
    if (core->suspicion > 0)
        core->suspicion--;
    if (core->state == PP_WAITING)
        wait_for_start(core, codes);
    else
        run(core, codes);
}

void pp_step(struct pp_core *core)
{
    if (core->state != PP_STOPPED)
        take_sample(core);
    uint16_t above_zero = product(core->command, core->dac_span);
    core->dac_failed = !core->board->write_dac((uint16_t)(core->dac_zero + above_zero));
    core->board->kick_watchdog();
}
