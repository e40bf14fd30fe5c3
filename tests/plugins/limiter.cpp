// A look-ahead limiter of known law, linked over both channels, AHEAD frames late and saying so. The gain wanted at a
// frame is Ceiling over the larger of the two magnitudes, at most 1; the gain given is the mean, over AHEAD + 1 frames,
// of the least that was wanted in AHEAD + 1 frames, so that no sample passes the ceiling.
#include "probe.hpp"

#include <algorithm>

START_NAMESPACE_DISTRHO

class Limiter : public Probe {
public:
    Limiter() : Probe({
        { "Drive", "drive", "dB", 0.0f, 0.0f, 24.0f },
        { "Ceiling", "ceiling", "dB", 0.0f, -24.0f, 0.0f },
    }) { setLatency(AHEAD); }

protected:
    void activate() override
    {
        wanted.assign(AHEAD + 1, 1.0);
        least.assign(AHEAD + 1, 1.0);
        for (std::vector<double>& line : lines)
            line.assign(AHEAD + 1, 0.0);
        now = 0;
    }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const double drive = amplitude(values[0]), ceiling = amplitude(values[1]);
        for (uint32_t frame = 0; frame < frames; ++frame) {
            double peak = 1e-12;
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel) {
                lines[channel][now] = drive * inputs[channel][frame];
                peak = std::fmax(peak, std::fabs(lines[channel][now]));
            }
            wanted[now] = std::fmin(1.0, ceiling / peak);
            least[now] = *std::min_element(wanted.begin(), wanted.end());
            double sum = 0.0;
            for (const double one : least)
                sum += one;
            const std::size_t oldest = (now + 1) % (AHEAD + 1);
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
                outputs[channel][frame] = static_cast<float>(lines[channel][oldest] * sum / (AHEAD + 1));
            now = oldest;
        }
    }

private:
    std::vector<double> wanted, least, lines[DISTRHO_PLUGIN_NUM_INPUTS];
    std::size_t now = 0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Limiter)
