#include "sampler.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#define PIN_OF(name, pin) (pin),
static const uint8_t pins[CHANNEL_COUNT] = {CHANNELS(PIN_OF)};

#define PIN_MASK(name, pin) | (1u << (pin))
#define DIGITAL_OFF ((0u CHANNELS(PIN_MASK)) & 0x3Fu)

/* F_CPU / ADC_CLOCK_DIVIDER, which is 128. */
#define ADC_CLOCK ((1u << ADPS2) | (1u << ADPS1) | (1u << ADPS0))

static volatile uint32_t clock_us; /* time of the last timer tick */
static uint16_t scan[CHANNEL_COUNT];
static uint8_t scanned;

/* The interrupt writes `waiting` only while `ready` is false, the main loop reads it only while it is true. */
static volatile struct sample waiting;
static volatile bool ready;

static void select_channel(uint8_t index)
{
    ADMUX = (uint8_t)((1u << REFS0) | pins[index]); /* reference: AVCC */
}

void sampler_start(void)
{
    clock_us = (uint32_t)T0_US;
    scanned = 0;
    ready = false;

    DIDR0 = (uint8_t)DIGITAL_OFF;
    select_channel(0);
    /* The first conversion takes nearly twice as long as the others: it is made here and thrown away. */
    ADCSRA = (uint8_t)((1u << ADEN) | (1u << ADSC) | ADC_CLOCK);
    while (ADCSRA & (1u << ADSC))
        ;
    ADCSRB = (uint8_t)((1u << ADTS2) | (1u << ADTS0)); /* start at timer 1 compare match B */
    ADCSRA = (uint8_t)((1u << ADEN) | (1u << ADATE) | (1u << ADIF) | (1u << ADIE) | ADC_CLOCK);

    TCCR1A = 0;
    OCR1A = (uint16_t)(TIMER_TICKS - 1u);
    OCR1B = (uint16_t)(TIMER_TICKS - 2u);
    TIMSK1 = (uint8_t)(1u << OCIE1B);
    TCCR1B = (uint8_t)((1u << WGM12) | (1u << CS11)); /* clear at OCR1A, F_CPU / 8 */
}

/* The same event starts the first conversion. Running this also clears the compare flag, without which
 * the next match would not start another. */
ISR(TIMER1_COMPB_vect)
{
    clock_us += PERIOD_US;
}

ISR(ADC_vect)
{
    scan[scanned] = ADC;
    scanned++;
    if (scanned < CHANNEL_COUNT) {
        select_channel(scanned);
        ADCSRA |= (uint8_t)(1u << ADSC);
        return;
    }
    scanned = 0;
    select_channel(0);
    if (!ready) {
        waiting.t_us = clock_us;
        for (uint8_t i = 0; i < CHANNEL_COUNT; i++)
            waiting.codes[i] = scan[i];
        ready = true;
    }
}

bool sampler_ready(void)
{
    return ready;
}

struct sample sampler_take(void)
{
    struct sample taken = waiting;
    ready = false;
    return taken;
}
