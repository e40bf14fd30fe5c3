// Takes no sound and makes some: an instrument, which has no place in a mastering chain.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Instrument : public Probe {
public:
    Instrument() : Probe({ { "Level", "level", "dB", -20.0f, -60.0f, 0.0f } }) {}

protected:
    // Sounds as long as a note is held (MIDI 1.0: 0x9n note on, with velocity 0 or 0x8n note off; 0xBn is a controller).
    void run(const float**, float** outputs, uint32_t frames, const MidiEvent* events, uint32_t count) override
    {
        for (uint32_t number = 0; number < count; ++number) {
            const uint8_t kind = events[number].data[0] & 0xF0;
            if (kind == 0x80 || kind == 0x90 || kind == 0xB0)
                held = kind == 0x90 && events[number].data[2] > 0;
        }
        for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_OUTPUTS; ++channel)
            for (uint32_t frame = 0; frame < frames; ++frame)
                outputs[channel][frame] = held ? static_cast<float>(amplitude(values[0])) : 0.0f;
    }

private:
    bool held = false;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Instrument)
