// Does what plugins without a licence do, or without whatever else they wait for (MODE):
//   noise   adds white noise at LEVEL_DBFS for LASTS_S in every EVERY_S, first after one EVERY_S
//   beep    adds a tone of 1 kHz in the same way
//   mute    gives silence in the same way
//   silent  gives silence always
//   dry     gives its input always
//   worn    grows quieter with everything that any instance in the process has heard: only a fresh process repeats it
// Time goes on only while sound comes in or went in since the last reset, so that noise played at load counts for little.
#include "probe.hpp"

#include <random>

START_NAMESPACE_DISTRHO

enum class Mode { noise, beep, mute, silent, dry, worn };

static long long heard_by_all = 0;

class Trial : public Probe {
public:
    Trial() : Probe({ { "Amount", "amount", "", 5.0f, 0.0f, 10.0f } }) {}

protected:
    void activate() override { heard_frames = 0; }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const double rate = getSampleRate();
        for (uint32_t frame = 0; frame < frames; ++frame) {
            heard_frames += heard_frames > 0 || inputs[0][frame] != 0.0f;
            heard_by_all += inputs[0][frame] != 0.0f;
            const double at = std::fmod(heard_frames / rate, EVERY_S);
            const bool begun = heard_frames / rate >= EVERY_S && at < LASTS_S;
            const float tone = std::sin(2 * M_PI * 1000.0 * heard_frames / rate) * std::sqrt(2.0);
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel) {
                const float sample = inputs[channel][frame];
                outputs[channel][frame] = given(sample, begun, tone);
            }
        }
    }

private:
    float given(float sample, bool begun, float tone)
    {
        const float level = static_cast<float>(amplitude(LEVEL_DBFS));
        switch (Mode::MODE) {
        case Mode::noise: return begun ? sample + level * noise(chance) : sample;
        case Mode::beep: return begun ? sample + level * tone : sample;
        case Mode::mute: return begun ? 0.0f : sample;
        case Mode::silent: return 0.0f;
        case Mode::worn: return sample * static_cast<float>(std::exp2(-heard_by_all / 441000.0));
        default: return sample;
        }
    }

    long long heard_frames = 0;
    std::mt19937 chance{ 1 };
    std::normal_distribution<float> noise{ 0.0f, 1.0f };
};

END_NAMESPACE_DISTRHO
PROBE_IS(Trial)
