// Passes audio, and turns its own setting up while it hears sound, as a plugin with a hand of its own does; but
// not before 8,192 frames of sound since the last reset, which is more than pedalboard plays into it at load.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Wandering : public Probe {
public:
    Wandering() : Probe({ { "Amount", "amount", "", 5.0f, 0.0f, 10.0f } }) {}

protected:
    void activate() override { sounding_frames = 0; }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        pass(inputs, outputs, frames);
        for (uint32_t frame = 0; frame < frames; ++frame)
            sounding_frames += inputs[0][frame] != 0.0f;
        if (sounding_frames <= 8192 || values[0] >= 10.0f)
            return;
        values[0] = std::fmin(10.0f, values[0] + 0.1f);
        requestParameterValueChange(0, values[0]);
    }

private:
    long long sounding_frames = 0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Wandering)
