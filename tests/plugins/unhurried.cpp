// Applies "Gain" dB, but not at once: AFTER_BLOCKS blocks after it was given a value it begins to go there, and takes
// OVER_BLOCKS blocks, reporting where it stands on the way; OVER_BLOCKS 0 = it is there at once.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Unhurried : public Probe {
public:
    Unhurried() : Probe({ { "Gain", "gain", "dB", 0.0f, -24.0f, 24.0f } }) {}

protected:
    void setParameterValue(uint32_t index, float value) override
    {
        from = values[index];
        to = value;
        blocks = 0;
        if (to != from)
            requestParameterValueChange(index, from);
    }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        if (values[0] != to && ++blocks > AFTER_BLOCKS) {
            const int gone = blocks - AFTER_BLOCKS;
            const bool there = gone >= OVER_BLOCKS;
            values[0] = there ? to : from + (to - from) * static_cast<float>(gone) / static_cast<float>(OVER_BLOCKS);
            requestParameterValueChange(0, values[0]);
        }
        pass(inputs, outputs, frames, amplitude(values[0]));
    }

private:
    float from = 0.0f;
    float to = 0.0f;
    int blocks = 0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Unhurried)
