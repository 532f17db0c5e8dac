/* The firmware core compiled for the host, worked through stdin and stdout by a test.
 *
 * Commands, numbers little-endian:
 *   L  u8 adc_bits  u8 dac_bits  u16 rate_hz  u8 latched  u16 n  n bytes of a block    power-up
 *   S  u8 dac_takes  u16 code for each of PP_MAX_INPUTS inputs                          a step
 *   T  the same                                                                         a step that is undone
 *   A                                                                                   every pair of 10-bit codes
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
static uint16_t dac;
static unsigned long kicks;

static void read_block(uint16_t at, void *into, uint8_t bytes)
{
    for (uint8_t i = 0; i < bytes; i++)
        ((uint8_t *)into)[i] = block[(uint16_t)(at + i)];
}

static uint16_t input_code(uint8_t input)
{
    return codes[input];
}

static bool write_dac(uint16_t code)
{
    dac = code;
    return dac_takes;
}

static void kick_watchdog(void)
{
    kicks++;
}

static struct pp_board board = {
    .read_block = read_block, .input_code = input_code, .write_dac = write_dac, .kick_watchdog = kick_watchdog};

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
    pp_start(&core, &board, (enum pp_cause)latched);
    answer();
}

static void step(bool undo)
{
    uint8_t takes;
    take(&takes, 1);
    take(codes, sizeof codes);
    dac_takes = takes != 0;
    struct pp_core before = core;
    unsigned long kicked = kicks;
    pp_step(&core);
    if (kicks != kicked + 1)
        abort();
    answer();
    if (undo)
        core = before;
}

/* Every pair of inputs 0 and 1, each as one step from the present state. */
static void all_pairs(void)
{
    struct pp_core before = core;
    for (uint16_t a = 0; a < 1024; a++)
        for (uint16_t b = 0; b < 1024; b++) {
            codes[0] = a;
            codes[1] = b;
            pp_step(&core);
            put16(dac);
            putchar(core.state);
            core = before;
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
        default: return 2;
        }
        if (c == 'A' || c == 'L')
            fflush(stdout);
    }
    return 0;
}
