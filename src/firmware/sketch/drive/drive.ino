// The board that drives a motor controller, for any board with an Arduino core: the same core as ../../boards, in src/core.
// COMPILED FOR THE AVR, RUN AGAINST STAND-INS ONLY, NEVER ON A BOARD. Read README.md and BUILD.md first; the enable line and its
// pump are not optional.
//
// The constants are compiled in: pedalproof constants ... --board-rate-hz 500 --format c --out my_block.h, beside this file.
// What this form lacks: nobody looks whether the DAC wakes up at 0 (store 0 in it once); no watchdog (the enable line covers a hang, and a
// step that hung is a stop when it comes back); no mark over a reset: A RESET ENDS A STOP, from its button or from a serial port that is
// opened, and after it the pedal must be at rest once; the supply is watched on an ATmega328P alone. Where you can, use ../../boards.

#include <Wire.h>

#include "src/core/drive.h"

const uint16_t rateHz = 500;                  // steps a second: the constants must be made for it
const uint8_t adcBits = 10;                   // what analogRead() gives
const uint8_t dacBits = 12;                   // two bytes 0000dddd dddddddd
const uint8_t dacAddress = 0x60;
const uint8_t inputPins[] = {A0, A1, A2};     // in the order of the constants
const uint8_t readBackPin = A3;
const uint8_t enablePin = 7;
const uint8_t ledPin = 13;

// ---- nothing to set below ----

const uint32_t periodUs = 1000000 / rateHz;
const uint32_t hungUs = 10 * periodUs; // who stood still for so long does not go on: what was asked for is of another time
static_assert(dacBits >= adcBits, "the read-back compares with the DAC's code");
static struct pp_core core;
static uint32_t nextUs, begunUs;

uint16_t pp_input_code(uint8_t input) {
  return input < sizeof inputPins ? (uint16_t)analogRead(inputPins[input]) : PP_UNREAD;
}

uint16_t pp_read_back() {
  return (uint16_t)((uint32_t)analogRead(readBackPin) << (dacBits - adcBits));
}

bool pp_write_dac(uint16_t code) {
  Wire.beginTransmission(dacAddress);
  Wire.write((uint8_t)(code >> 8));
  Wire.write((uint8_t)code);
  return Wire.endTransmission() == 0;
}

uint16_t pp_supply_code() {
#ifdef __AVR_ATmega328P__
  ADMUX = _BV(REFS0) | 14; // its own 1.1 V against the supply; analogRead() sets the channel again
  delayMicroseconds(100);
  ADCSRA |= _BV(ADSC);
  while (ADCSRA & _BV(ADSC))
    ;
  return ADC;
#else
  return pp_block_supply(); // in the middle of what is believed: not watched
#endif
}

// A whole cycle for each step: low from its beginning, high from its end. At 500 steps a second the pump then holds as it does at 1000.
void pp_pulse() {
  if (micros() - begunUs > hungUs)
    pp_become(&core, PP_STOPPED, PP_WATCHDOG);
  else
    digitalWrite(enablePin, HIGH);
}

void pp_kick_watchdog() {}

// The LED's signs are those of ../../boards.
static void showLed() {
  static uint16_t steps;
  static uint8_t slot;
  if (++steps >= rateHz / 4) {
    steps = 0;
    slot++;
  }
  bool on = true;
  if (core.state == PP_WAITING)
    on = core.start_seen > 0 ? (slot & 2) == 0 : steps < rateHz / 8;
  else if (core.state == PP_STOPPED) {
    if (slot >= 2 * core.cause + 6)
      slot = 0;
    on = slot < 2 * core.cause && (slot & 1) == 0;
  }
  digitalWrite(ledPin, on);
}

void setup() {
  pinMode(enablePin, OUTPUT);
  pinMode(ledPin, OUTPUT);
#ifndef __AVR__
  analogReadResolution(adcBits);
#endif
  Wire.begin();
  Wire.setClock(400000);
#ifdef WIRE_HAS_TIMEOUT
  Wire.setWireTimeout(3000, true); // microseconds; without it a wire that is held low is waited for without end
#endif
  pp_write_dac(0);
  static struct pp_board board;
  board.rate_hz = rateHz;
  board.adc_bits = adcBits;
  board.dac_bits = dacBits;
  delay(100); // until the controls' own supplies are steady
  pp_start(&core, &board, PP_NO_CAUSE);
  nextUs = micros() + periodUs;
}

void loop() {
  begunUs = micros();
  uint32_t lateUs = begunUs - nextUs;
  if ((int32_t)lateUs < 0)
    return;
  if (lateUs > hungUs) {
    if (core.state == PP_RUNNING)
      pp_become(&core, PP_STOPPED, PP_WATCHDOG);
    nextUs = begunUs;
  }
  nextUs += periodUs;
  digitalWrite(enablePin, LOW);
  pp_step(&core);
  showLed();
}
