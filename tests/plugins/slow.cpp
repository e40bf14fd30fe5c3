// Passes audio and takes TIMES_REAL_TIME times as long as the block lasts: a stage of known cost. It sleeps,
// so two of them side by side need no second processor.
#include "probe.hpp"

#include <chrono>
#include <thread>

START_NAMESPACE_DISTRHO

class Slow : public Probe {
public:
    Slow() : Probe({ { "Amount", "amount", "", 0.0f, 0.0f, 10.0f } }) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        const auto start = std::chrono::steady_clock::now();
        pass(inputs, outputs, frames);
        std::this_thread::sleep_until(start + std::chrono::duration_cast<std::chrono::steady_clock::duration>(
            std::chrono::duration<double>(TIMES_REAL_TIME * frames / getSampleRate())));
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(Slow)
