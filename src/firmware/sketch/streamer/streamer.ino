// Streamer for a bench board, for any board with an Arduino core: prints every sample of its analogue
// inputs as one text line, with a header line at power-up and once a second. It commands nothing.
//
// Set these to your board and wiring, then compile and upload.

const uint32_t baudRate = 1000000; // 115200 carries 400 samples a second of two channels, not more
const uint32_t rateHz = 500;       // samples of all channels per second
const int adcBits = 10;            // what analogRead() gives: 10 (0..1023), on many 32-bit boards 12 (0..4095)
const uint32_t vrefMv = 5000;      // voltage that reads as full scale, in millivolts: measure it
const uint8_t inputPins[] = {A0, A1};
const char *const inputNames[] = {"pedal_a", "pedal_b"};

// ---- nothing to set below ----
//
// t_us is taken right before the first pin is read; the other pins follow one conversion after another (0.11 ms
// on an 8-bit board). loop() and interrupts delay a reading by some ten microseconds: t_us tells the time
// of the reading that was made, not of the one that was planned. A line that finds no room is left out whole.

const uint8_t inputCount = sizeof inputPins / sizeof inputPins[0];
static_assert(inputCount == sizeof inputNames / sizeof inputNames[0], "as many names as pins");
static_assert(inputCount >= 1 && inputCount <= 8, "one to eight inputs");

const uint32_t periodUs = 1000000 / rateHz;
static_assert(periodUs * rateHz == 1000000, "rateHz must divide one million");

const uint16_t ringSize = 512;
static uint8_t ring[ringSize];
static uint16_t ringTail = 0;  // next byte to send
static uint16_t ringHead = 0;  // end of the finished lines
static uint16_t ringDraft = 0; // end of the line being written
static bool noRoom = false;
static uint8_t sum = 0; // XOR of the line's bytes

static void beginLine() {
  ringDraft = ringHead;
  noRoom = false;
  sum = 0;
}

static void putByte(uint8_t byte) {
  uint16_t next = (ringDraft + 1) % ringSize;
  if (noRoom || next == ringTail) {
    noRoom = true;
    return;
  }
  sum ^= byte;
  ring[ringDraft] = byte;
  ringDraft = next;
}

static void putText(const char *text) {
  while (*text) putByte(*text++);
}

// Unsigned decimal by repeated subtraction: much faster than dividing on an 8-bit board.
static void putNumber(uint32_t value) {
  static const uint32_t powers[] = {1000000000, 100000000, 10000000, 1000000, 100000, 10000, 1000, 100, 10};
  bool started = false;
  for (uint32_t power : powers) {
    char digit = '0';
    while (value >= power) {
      value -= power;
      digit++;
    }
    started = started || digit != '0';
    if (started) putByte(digit);
  }
  putByte('0' + value);
}

// False when there was no room for the line: then none of it is sent.
static bool endLine() {
  static const char hexDigits[] = "0123456789ABCDEF";
  uint8_t lineSum = sum;
  putByte('*');
  putByte(hexDigits[lineSum >> 4]);
  putByte(hexDigits[lineSum & 15]);
  putByte('\n');
  if (!noRoom) ringHead = ringDraft;
  return !noRoom;
}

static bool sendHeader() {
  beginLine();
  putText("# pedalproof 1 bits=");
  putNumber(adcBits);
  putText(" vref_mv=");
  putNumber(vrefMv);
  putText(" rate_hz=");
  putNumber(rateHz);
  putText(" cols=t_us");
  for (const char *name : inputNames) {
    putByte(',');
    putText(name);
  }
  return endLine();
}

static void sendSample(uint32_t timeUs, const uint16_t *codes) {
  beginLine();
  putNumber(timeUs);
  for (uint8_t i = 0; i < inputCount; i++) {
    putByte(',');
    putNumber(codes[i]);
  }
  endLine();
}

// Hands the port as much as it takes without waiting. Some cores cannot tell how much that is: after 20 ms
// without room one byte is written all the same.
static void pump() {
  static uint32_t lastSentUs = 0;
  if (ringTail == ringHead) return;
  int room = Serial.availableForWrite();
  if (room <= 0 && micros() - lastSentUs > 20000) room = 1;
  for (; room > 0 && ringTail != ringHead; room--) {
    if (Serial.write(ring[ringTail]) == 0) return;
    ringTail = (ringTail + 1) % ringSize;
    lastSentUs = micros();
  }
}

static uint32_t dueUs;

void setup() {
  Serial.begin(baudRate);
#if !defined(__AVR__)
  analogReadResolution(adcBits);
#endif
  for (uint8_t pin : inputPins) analogRead(pin); // the first conversion after power-up takes longer
  dueUs = micros() + periodUs;
}

void loop() {
  static uint32_t untilHeader = 0; // samples
  pump();
  if ((int32_t)(micros() - dueUs) < 0) return;

  uint32_t timeUs = micros();
  uint16_t codes[inputCount];
  for (uint8_t i = 0; i < inputCount; i++) codes[i] = analogRead(inputPins[i]);
  dueUs += periodUs;
  if ((int32_t)(timeUs - dueUs) >= 0) dueUs = timeUs + periodUs; // far behind: let those samples be missing

  // Without room for the header the sample is given up too, or samples would take all the room for ever.
  if (untilHeader == 0) {
    if (!sendHeader()) return;
    untilHeader = rateHz;
  }
  untilHeader--;
  sendSample(timeUs, codes);
}
