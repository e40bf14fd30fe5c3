// Delays by as many frames as its setting says, and tells the host so whenever that changes.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class DelaySet : public Probe {
public:
    DelaySet() : Probe({ { "Look-ahead", "lookahead", "frames", 0.0f, 0.0f, 1000.0f } }) { setLatency(0); }

protected:
    void setParameterValue(uint32_t index, float value) override
    {
        Probe::setParameterValue(index, value);
        setLatency(delay());
    }

    void activate() override
    {
        for (std::vector<float>& line : lines)
            line.assign(LONGEST + 1, 0.0f);
        position = 0;
        setLatency(delay());
    }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const std::size_t late = delay();
        for (uint32_t frame = 0; frame < frames; ++frame) {
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel) {
                lines[channel][position] = inputs[channel][frame];
                outputs[channel][frame] = lines[channel][(position + LONGEST + 1 - late) % (LONGEST + 1)];
            }
            position = (position + 1) % (LONGEST + 1);
        }
    }

private:
    static constexpr std::size_t LONGEST = 1000;

    uint32_t delay() const { return static_cast<uint32_t>(std::lround(values[0])); }

    std::vector<float> lines[DISTRHO_PLUGIN_NUM_INPUTS];
    std::size_t position = 0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(DelaySet)
