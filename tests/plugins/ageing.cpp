// Grows quieter with every frame of sound it has heard in its life, and no reset makes it young again: two
// renders are equal only from two instances. It keeps no sound itself, so a host that listens for a tail after
// a reset hears none.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

constexpr double half_life_frames = 44100.0;

class Ageing : public Probe {
public:
    Ageing() : Probe({ { "Amount", "amount", "", 5.0f, 0.0f, 10.0f } }) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        pass(inputs, outputs, frames, std::exp2(-heard_frames / half_life_frames));
        for (uint32_t frame = 0; frame < frames; ++frame)
            heard_frames += inputs[0][frame] != 0.0f;
    }

private:
    double heard_frames = 0.0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Ageing)
