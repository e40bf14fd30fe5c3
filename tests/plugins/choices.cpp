// One setting of every kind a plugin can show: texts, whole numbers, on/off, a frequency, a meter to read, a
// percentage. Only "Character" is heard: Clean passes the sound, Warm halves it, Hot quarters it. "Meter"
// shows the last block's peak.
#include "probe.hpp"

#include <algorithm>

START_NAMESPACE_DISTRHO

class Choices : public Probe {
public:
    Choices() : Probe({
        { "Character", "character", "", 0.0f, 0.0f, 2.0f, kParameterIsAutomatable | kParameterIsInteger,
          { "Clean", "Warm", "Hot" } },
        { "Stages", "stages", "", 1.0f, 1.0f, 4.0f, kParameterIsAutomatable | kParameterIsInteger },
        { "Soft", "soft", "", 0.0f, 0.0f, 1.0f, kParameterIsAutomatable | kParameterIsBoolean },
        { "Frequency", "frequency", "Hz", 1000.0f, 20.0f, 20000.0f,
          kParameterIsAutomatable | kParameterIsLogarithmic },
        { "Meter", "meter", "", 0.0f, 0.0f, 1.0f, kParameterIsAutomatable | kParameterIsOutput },
        { "Mix", "mix", "%", 100.0f, 0.0f, 100.0f },
    }) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        pass(inputs, outputs, frames, std::pow(0.5, values[0]));
        float peak = 0.0f;
        for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_OUTPUTS; ++channel)
            for (uint32_t frame = 0; frame < frames; ++frame)
                peak = std::max(peak, std::abs(outputs[channel][frame]));
        values[4] = std::min(peak, 1.0f);
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(Choices)
