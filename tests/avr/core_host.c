/* The firmware core compiled for the host, worked through stdin and stdout by a test.
 *
 * Commands, numbers little-endian:
 *   L  u8 adc_bits  u8 dac_bits  u16 rate_hz  u8 latched  u16 n  n bytes of a block    power-up
 *   S  u8 dac_takes  u16 own reference  u16 read-back (0xFFFF: what was written)
 *      u16 code for each of PP_MAX_INPUTS inputs                                        a step
 *   T  the same                                                                         a step that is undone
 *   A                                                                                   every pair of 10-bit codes
 *   F  u16 byte  u8 bit                                                                 a bit of the core's memory changes
 *   Z                                                                                   u16 size of the core's memory
 * Answer to L, S and T: u16 last DAC code  u8 state  u8 cause  u16 command
 * To A: 2^20 times u16 DAC code, u8 state. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "blend.h"

static struct pp_core core;
static uint8_t block[65536];
static uint16_t codes[PP_MAX_INPUTS];
static bool dac_takes = true;
static uint16_t dac, taken_dac, reference, reads;
static unsigned long kicks, pulses;

void pp_read_block(uint16_t at, void *into, uint8_t bytes)
{
    for (uint8_t i = 0; i < bytes; i++)
        ((uint8_t *)into)[i] = block[(uint16_t)(at + i)];
}

uint16_t pp_input_code(uint8_t input)
{
    return codes[input];
}

bool pp_write_dac(uint16_t code)
{
    dac = code;
    if (dac_takes)
        taken_dac = code;
    return dac_takes;
}

uint16_t pp_supply_code(void)
{
    return reference;
}

uint16_t pp_read_back(void)
{
    return reads == 0xFFFF ? taken_dac : reads;
}

void pp_pulse(void)
{
    pulses++;
}

void pp_kick_watchdog(void)
{
    kicks++;
}

static struct pp_board board;

static void take(void *into, size_t bytes)
{
    if (fread(into, 1, bytes, stdin) != bytes)
        exit(0);
}

static void put16(uint16_t value)
{
    putchar(value & 0xFF);
    putchar(value >> 8);
}

static void answer(void)
{
    put16(dac);
    putchar(core.state);
    putchar(core.cause);
    put16(core.command);
}

static void power_up(void)
{
    uint16_t bytes;
    uint8_t latched;
    take(&board.adc_bits, 1);
    take(&board.dac_bits, 1);
    take(&board.rate_hz, 2);
    take(&latched, 1);
    take(&bytes, 2);
    memset(block, 0xFF, sizeof block);
    take(block, bytes);
    memset(&core, 0xA5, sizeof core); /* nothing may rest on what the memory held */
    dac = 0xFFFF;
    dac_takes = true;
    reads = 0xFFFF;
    pp_start(&core, &board, (enum pp_cause)latched);
    answer();
}

static void step(bool undo)
{
    uint8_t takes;
    take(&takes, 1);
    take(&reference, 2);
    take(&reads, 2);
    take(codes, sizeof codes);
    dac_takes = takes != 0;
    struct pp_core before = core;
    uint16_t taken_before = taken_dac;
    unsigned long kicked = kicks, pulsed = pulses;
    pp_step(&core);
    if (kicks != kicked + 1 || pulses != pulsed + (core.state == PP_RUNNING))
        abort();
    answer();
    if (undo) {
        core = before;
        taken_dac = taken_before;
    }
}

static void flip(void)
{
    uint16_t byte;
    uint8_t bit;
    take(&byte, 2);
    take(&bit, 1);
    if (byte < sizeof core && bit < 8)
        ((uint8_t *)&core)[byte] ^= (uint8_t)(1u << bit);
}

/* Every pair of inputs 0 and 1, each as one step from the present state. */
static void all_pairs(void)
{
    struct pp_core before = core;
    uint16_t taken_before = taken_dac;
    for (uint16_t a = 0; a < 1024; a++)
        for (uint16_t b = 0; b < 1024; b++) {
            codes[0] = a;
            codes[1] = b;
            pp_step(&core);
            put16(dac);
            putchar(core.state);
            core = before;
            taken_dac = taken_before;
        }
}

int main(void)
{
    for (int c; (c = getchar()) != EOF;) {
        switch (c) {
        case 'L': power_up(); break;
        case 'S': step(false); break;
        case 'T': step(true); break;
        case 'A': all_pairs(); break;
        case 'F': flip(); break;
        case 'Z': put16(sizeof core); break;
        default: return 2;
        }
        if (c == 'A' || c == 'L')
            fflush(stdout);
    }
    return 0;
}
