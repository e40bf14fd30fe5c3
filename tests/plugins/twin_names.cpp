// Two settings of one name. The first moves the left channel, the second the right: the sound tells which.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class TwinNames : public Probe {
public:
    TwinNames() : Probe({
        { "Band", "band_left", "dB", 0.0f, -12.0f, 12.0f },
        { "Band", "band_right", "dB", 0.0f, -12.0f, 12.0f },
    }) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel) {
            const double factor = amplitude(values[channel]);
            for (uint32_t frame = 0; frame < frames; ++frame)
                outputs[channel][frame] = static_cast<float>(factor * inputs[channel][frame]);
        }
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(TwinNames)
