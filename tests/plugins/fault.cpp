// Passes audio and does one thing wrong (FAULT) at one moment (MOMENT): tests show what we make of it.
//   load     in the constructor
//   set      when the setting "Amount" is given a value other than its default
//   process  once more than AFTER_FRAMES frames with sound in them have come in since the last reset: silence
//            never sets it off, nor the 2,560 frames of noise that pedalboard plays into a plugin at load
//   close    in the destructor, once it has heard that much sound since it was made
#include "probe.hpp"

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <limits>
#include <random>
#include <thread>

START_NAMESPACE_DISTRHO

enum class Fault { segfault, abort, exit0, hang, nan, inf, chatter, endless, noise, slow, refuse, memory, latency };
enum class Moment { load, set, process, close };

constexpr Fault fault = Fault::FAULT;
constexpr Moment moment = Moment::MOMENT;
constexpr int lines_a_block = 200;
constexpr float noise_peak = 1e-3f;
constexpr std::size_t greed = std::size_t{ 1 } << 30;     // bytes of memory taken, and never given back
constexpr int late_frames = 333;                          // the delay that is reported of a sudden, and is none

class Faulty : public Probe {
public:
    Faulty() : Probe({ { "Amount", "amount", "", 5.0f, 0.0f, 10.0f } })
    {
        if (moment == Moment::load && !isDummyInstance())
            misbehave();
    }

    ~Faulty() override
    {
        if (moment == Moment::close && heard_frames > AFTER_FRAMES)
            misbehave();
    }

protected:
    void setParameterValue(uint32_t index, float value) override
    {
        if (moment == Moment::set && value != declared[index].initial) {
            if (fault == Fault::refuse) {
                requestParameterValueChange(index, values[index]);  // the host is to show the old value again
                return;
            }
            misbehave();
        }
        Probe::setParameterValue(index, value);
    }

    void activate() override { sounding_frames = 0; }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        for (uint32_t frame = 0; frame < frames; ++frame) {
            bool sound = false;
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
                sound = sound || inputs[channel][frame] != 0.0f;
            sounding_frames += sound;
            heard_frames += sound;
            const bool faulty = moment == Moment::process && sounding_frames > AFTER_FRAMES;
            if (faulty)
                misbehave();
            for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
                outputs[channel][frame] = faulty ? spoilt(inputs[channel][frame]) : inputs[channel][frame];
        }
        if (fault == Fault::chatter && moment == Moment::process && sounding_frames > AFTER_FRAMES)
            chatter();
#if DISTRHO_PLUGIN_WANT_LATENCY
        if (fault == Fault::latency && moment == Moment::process && sounding_frames > AFTER_FRAMES)
            setLatency(late_frames);
#endif
    }

private:
    // Does what stops or delays the process; the faults in the sound or in the settings do nothing here.
    static void misbehave()
    {
        switch (fault) {
        case Fault::segfault: {
            volatile int* volatile nowhere = nullptr;
            *nowhere = 1;
            return;
        }
        case Fault::abort: std::abort();
        case Fault::exit0: std::exit(0);
        case Fault::hang:
            for (;;)
                std::this_thread::sleep_for(std::chrono::seconds(1));
        case Fault::endless:
            for (;;)
                std::puts("Probe says the same on stdout, over and over");
        case Fault::memory: {
            auto* const taken = static_cast<volatile char*>(std::malloc(greed));
            for (std::size_t at = 0; at < greed; at += 4096)
                taken[at] = 1;  // a page that is not written to is not counted
            for (;;)
                std::this_thread::sleep_for(std::chrono::seconds(1));
        }
        case Fault::slow: std::this_thread::sleep_for(std::chrono::duration<double>(SECONDS)); return;
        default: return;
        }
    }

    float spoilt(float sample)
    {
        switch (fault) {
        case Fault::nan: return std::numeric_limits<float>::quiet_NaN();
        case Fault::inf: return std::numeric_limits<float>::infinity();
        case Fault::noise: return sample + noise(chance);
        default: return sample;
        }
    }

    static void chatter()
    {
        for (int line = 1; line <= lines_a_block; ++line) {
            std::fprintf(stdout, "Probe says %d on stdout\n", line);
            std::fprintf(stderr, "Probe says %d on stderr\n", line);
        }
        std::fflush(stdout);
    }

    long long sounding_frames = 0;  // since the last reset
    long long heard_frames = 0;
    std::mt19937 chance{ std::random_device{}() };
    std::uniform_real_distribution<float> noise{ -noise_peak, noise_peak };
};

END_NAMESPACE_DISTRHO
PROBE_IS(Faulty)
