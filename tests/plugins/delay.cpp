// Delays by DELAY_FRAMES and tells the host REPORTED_FRAMES: honest when they are equal, a liar otherwise.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Delay : public Probe {
public:
    Delay() : Probe({}) { setLatency(REPORTED_FRAMES); }

protected:
    void activate() override
    {
        for (std::vector<float>& line : lines)
            line.assign(DELAY_FRAMES + 1, 0.0f);
        position = 0;
    }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        for (uint32_t frame = 0; frame < frames; ++frame) {
            const std::size_t oldest = (position + 1) % (DELAY_FRAMES + 1);
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel) {
                lines[channel][position] = inputs[channel][frame];
                outputs[channel][frame] = lines[channel][oldest];
            }
            position = oldest;
        }
    }

private:
    std::vector<float> lines[DISTRHO_PLUGIN_NUM_INPUTS];
    std::size_t position = 0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Delay)
