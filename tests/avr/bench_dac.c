#include "bench_dac.h"

#include <stddef.h>

#include <simavr/avr_ioport.h>

static struct bench_dac *dac;
static avr_irq_t *pins;
static uint8_t ddr;
static bool sda_level = true, scl_level = true; /* of the lines */
static bool answering;                          /* this DAC pulls SDA */
static bool open, addressed;                    /* between start and stop; the address was ours */
static unsigned bit, byte_number;
static uint8_t byte;
static uint16_t code;

static bool reading;   /* the DAC talks */
static bool storing;   /* the command was one for its memory */
static uint8_t answer[5];

/* Ready, and what stands in register and memory. */
static void make_answer(void)
{
    answer[0] = 0xC0;
    answer[1] = (uint8_t)(code >> 4);
    answer[2] = (uint8_t)(code << 4);
    answer[3] = (uint8_t)(dac->stored >> 8);
    answer[4] = (uint8_t)dac->stored;
}

static void written(void)
{
    dac->writes++;
    dac->on_write(code);
}

/* Two bytes of a fast write, or a command for the memory and its two. */
static void data_taken(void)
{
    if (byte_number == 1) {
        storing = byte == 0x60;
        code = (uint16_t)(byte << 8);
        if (!storing && (byte & 0xF0))
            dac->other_bytes++;
    } else if (!storing && byte_number == 2) {
        code |= byte;
        written();
    } else if (storing && byte_number == 2) {
        code = (uint16_t)(byte << 4);
    } else if (storing && byte_number == 3) {
        code |= byte >> 4;
        if (!dac->memory_dead)
            dac->stored = code;
        dac->stores++;
        written();
    } else {
        dac->other_bytes++;
    }
}

static void byte_taken(void)
{
    if (byte_number == 0) {
        addressed = byte >> 1 == dac->address;
        reading = addressed && (byte & 1);
        storing = false;
        if (reading)
            make_answer();
        if (!addressed)
            dac->other_bytes++;
    } else if (!addressed) {
        dac->other_bytes++;
    } else if (!reading) {
        data_taken();
    }
    byte_number++;
}

static void clock_rises(void)
{
    if (!open)
        return;
    if (bit < 8)
        byte = (uint8_t)(byte << 1 | sda_level);
    else if (reading && byte_number > 1 && sda_level)
        reading = false; /* the master has had enough */
    bit++;
}

/* Of the byte it sends: pulls for a 0. */
static bool pulls(unsigned n)
{
    return byte_number >= 1 && byte_number <= 5 && !(answer[byte_number - 1] >> (7 - n) & 1);
}

static void clock_falls(void)
{
    if (!open)
        return;
    if (bit == 8) {
        bool talks = reading && byte_number > 0;
        byte_taken();
        answering = !talks && addressed && !dac->deaf;
    } else {
        if (bit == 9)
            bit = 0;
        answering = reading && !dac->deaf && pulls(bit);
    }
}

static void look_at_lines(void)
{
    uint8_t port = dac->avr->data[dac->port_address];
    if ((ddr & port) & (1u << dac->sda | 1u << dac->scl))
        dac->driven_high++;

    bool scl = !(ddr >> dac->scl & 1) && !dac->scl_low;
    bool sda = !(ddr >> dac->sda & 1) && !dac->sda_low && !answering;
    if (scl && scl_level && sda != sda_level) {
        open = !sda; /* SDA falls while the clock is high: start; rises: stop */
        bit = 0;
        byte_number = 0;
        reading = false;
        answering = false;
    }
    sda_level = sda;
    if (scl != scl_level) {
        scl_level = scl;
        if (scl)
            clock_rises();
        else
            clock_falls();
        sda_level = !(ddr >> dac->sda & 1) && !dac->sda_low && !answering;
    }
    avr_raise_irq(pins + dac->sda, sda_level);
    avr_raise_irq(pins + dac->scl, scl_level);
}

static void on_direction(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)param;
    ddr = (uint8_t)value;
    look_at_lines();
}

void bench_dac_faults_changed(void)
{
    if (dac->deaf)
        answering = false;
    look_at_lines();
}

/* The simulator's reset sets its ports to inputs without saying so, and forgets what the pins saw. The DAC knows of
 * no reset: it may be in the middle of a byte. */
void bench_dac_board_was_reset(void)
{
    ddr = 0;
    avr_raise_irq(pins + dac->sda, 0); /* or the same level as before would be no news */
    avr_raise_irq(pins + dac->scl, 0);
    look_at_lines();
}

void bench_dac_connect(struct bench_dac *to)
{
    dac = to;
    pins = avr_io_getirq(dac->avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(dac->port), IOPORT_IRQ_PIN0);
    avr_irq_register_notify(
        avr_io_getirq(dac->avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(dac->port), IOPORT_IRQ_DIRECTION_ALL), on_direction,
        NULL);
    avr_raise_irq(pins + dac->sda, 1);
    avr_raise_irq(pins + dac->scl, 1);
}
