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

/* Whether every check track reads gain x partner + offset, within its band. Codes are below 2^15, so nothing
 * overflows: 2^16 x 2^12 + 2^15 x 2^15 < 2^31. */
static PP_APART bool tracks_agree(const struct pp_core *core)
{
    const struct pp_input *input = core->input;
    for (uint8_t left = core->is.inputs; left > 0; left--, input++) {
        const struct pp_check *check = &input->is.as.check;
        if (input->is.partner == PP_MULTIPLIES)
            continue;
        int16_t partner = (int16_t)core->input[input->is.partner].code;
        int32_t off = ((int32_t)input->code - check->offset) * 4096 - (int32_t)check->gain * partner;
        if (off < 0)
            off = -off;
        if (off > (int32_t)check->band << 12)
            return false;
    }
    return true;
}

/* Reads every input; why this sample is bad. */
static enum pp_cause sample(struct pp_core *core)
{
    enum pp_cause cause = core->dac_failed ? PP_DAC : PP_NO_CAUSE;
    struct pp_input *input = core->input;

    for (uint8_t i = 0; i < core->is.inputs; i++, input++) {
        input->code = core->board.input_code(i);
        if (input->code < input->is.window_low || input->code > input->is.window_high)
            cause = PP_OUTSIDE;
    }
    if (core->has_checks && cause != PP_OUTSIDE && !tracks_agree(core))
        cause = PP_TRACKS;
    return cause;
}

/* While waiting there is no lag to keep. */
static void follow(struct pp_input *input)
{
    input->sum = (uint16_t)(input->code << input->is.as.factor.filter_shift);
    input->filtered = input->code;
}

/* Codes from the rest edge towards the full edge, 0 at and before the rest edge. */
static uint16_t travel_of(const struct pp_input *input)
{
    uint16_t travel = (uint16_t)(input->filtered - input->is.as.factor.rest_edge);
    if (input->is.as.factor.full_edge < input->is.as.factor.rest_edge)
        travel = (uint16_t)-travel;
    return travel & 0x8000u ? 0 : travel;
}

/* The input's factor of the command, Q15. The filter keeps its fraction: sum is value x 2^shift, so a steady input is
 * reached exactly from both sides. */
static uint16_t factor_of(struct pp_input *input)
{
    const struct pp_segment *segment = input->curve;
    uint16_t travel;

    input->sum = (uint16_t)(input->sum + input->code - input->filtered);
    input->filtered = (uint16_t)(input->sum >> input->is.as.factor.filter_shift);
    travel = travel_of(input);

    if (travel >= input->span)
        return PP_ONE;
    while (travel >= segment->to.code) /* the last one ends at the span */
        segment++;
    uint32_t below = (uint16_t)(segment->to.code - travel) * segment->slope + 0x8000u;
    return (uint16_t)(segment->to.value - (uint16_t)(below >> 16));
}

static void wait_for_start(struct pp_core *core)
{
    struct pp_input *input = core->input;
    for (uint8_t left = core->is.inputs; left > 0; left--, input++)
        if (input->is.partner == PP_MULTIPLIES)
            follow(input);
    if (travel_of(&core->input[core->is.start_input]) > 0)
        core->start_seen = 0;
    else if (++core->start_seen >= core->is.start_samples)
        core->state = PP_RUNNING;
}

/* As product(); the first factor needs no multiplication. */
static uint16_t times(uint16_t target, uint16_t factor)
{
    return target == PP_ONE ? factor : product(target, factor);
}

/* The command moves towards the blend of the inputs; up only when nothing is suspected. */
static void run(struct pp_core *core)
{
    uint16_t target = PP_ONE;
    struct pp_input *input = core->input;
    for (uint8_t left = core->is.inputs; left > 0; left--, input++)
        if (input->is.partner == PP_MULTIPLIES)
            target = times(target, factor_of(input));
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
    enum pp_cause cause = sample(core);

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
        wait_for_start(core);
    else
        run(core);
}

void pp_step(struct pp_core *core)
{
    if (core->state != PP_STOPPED)
        take_sample(core);
    uint16_t above_zero = product(core->command, core->dac_span);
    core->dac_failed = !core->board.write_dac((uint16_t)(core->dac_zero + above_zero));
    core->board.kick_watchdog();
}
