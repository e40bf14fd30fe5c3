// Multiplies by a level drawn when it is built (GAIN_DB) and by its setting: the right answer is known
// exactly, and cannot be known without rendering. Stereo as "gain", one channel as "mono_gain".
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Gain : public Probe {
public:
    Gain() : Probe({
        { "Gain", "gain", "dB", 0.0f, -60.0f, 24.0f },
        { "Invert", "invert", "", 0.0f, 0.0f, 1.0f, kParameterIsAutomatable | kParameterIsBoolean },
    }) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const double sign = values[1] > 0.5f ? -1.0 : 1.0;
        pass(inputs, outputs, frames, sign * amplitude(GAIN_DB + static_cast<double>(values[0])));
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(Gain)
