// A feed-forward compressor of known law. The level is the larger of the two channels' magnitudes, sample by sample; the
// reduction asked for is (level - Threshold) (1 - 1 / Ratio) above Threshold, in dB. More is given at once, less as one
// pole of RELEASE_S lets go of it, in dB: r = max(asked, r exp(-1 / (RELEASE_S rate))).
#include "probe.hpp"

START_NAMESPACE_DISTRHO

class Compressor : public Probe {
public:
    Compressor() : Probe({
        { "Threshold", "threshold", "dB", 0.0f, -60.0f, 0.0f },
        { "Ratio", "ratio", "", 2.0f, 1.0f, 20.0f },
        { "Makeup", "makeup", "dB", 0.0f, 0.0f, 24.0f },
    }) {}

protected:
    void activate() override { reduction_db = 0.0; }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const double kept = RELEASE_S > 0.0 ? std::exp(-1.0 / (RELEASE_S * getSampleRate())) : 0.0;
        const double slope = 1.0 - 1.0 / values[1];
        for (uint32_t frame = 0; frame < frames; ++frame) {
            double peak = 1e-12;
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
                peak = std::fmax(peak, std::fabs(inputs[channel][frame]));
            const double asked = std::fmax(0.0, (20.0 * std::log10(peak) - values[0]) * slope);
            reduction_db = std::fmax(asked, reduction_db * kept);
            const double factor = amplitude(values[2] - reduction_db);
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
                outputs[channel][frame] = static_cast<float>(factor * inputs[channel][frame]);
        }
    }

private:
    double reduction_db = 0.0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Compressor)
