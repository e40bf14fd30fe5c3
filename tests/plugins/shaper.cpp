// Saturation of known harmonics: y = x + Second x^2 + Third x^3. A sine of amplitude A gains a second
// harmonic of Second A^2 / 2 and a third of Third A^3 / 4, without memory and without latency.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Shaper : public Probe {
public:
    Shaper() : Probe({
        { "Second", "second", "", 0.0f, 0.0f, 0.5f },
        { "Third", "third", "", 0.0f, -0.5f, 0.5f },
    }) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const double second = values[0], third = values[1];
        for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
            for (uint32_t frame = 0; frame < frames; ++frame) {
                const double x = inputs[channel][frame];
                outputs[channel][frame] = static_cast<float>(x * (1.0 + x * (second + x * third)));
            }
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(Shaper)
