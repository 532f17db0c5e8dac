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

static void byte_taken(void)
{
    if (byte_number == 0)
        addressed = byte == (uint8_t)(dac->address << 1);
    else if (addressed && byte_number == 1 && (byte & 0xF0) == 0)
        code = (uint16_t)(byte << 8);
    else if (addressed && byte_number == 2) {
        code |= byte;
        dac->writes++;
        dac->on_write(code);
    }
    if (!addressed || byte_number > 2 || (byte_number == 1 && (byte & 0xF0)))
        dac->other_bytes++;
    byte_number++;
}

static void clock_rises(void)
{
    if (!open)
        return;
    if (bit < 8)
        byte = (uint8_t)(byte << 1 | sda_level);
    bit++;
}

static void clock_falls(void)
{
    if (!open)
        return;
    if (bit == 8) {
        byte_taken();
        answering = addressed && !dac->deaf;
    } else if (bit == 9) {
        answering = false;
        bit = 0;
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
