// COUNT settings, each of whose texts takes MS_A_TEXT ms to write, as some plugins' do. The framework writes a
// continuous setting's text with snprintf and "%f", and nothing else so: that call comes here.
#include "probe.hpp"

#include <chrono>
#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <thread>

extern "C" int snprintf(char* to, std::size_t size, const char* format, ...) noexcept
{
    if (std::strcmp(format, "%f") == 0)
        std::this_thread::sleep_for(std::chrono::microseconds(static_cast<long>(1000 * MS_A_TEXT)));
    std::va_list arguments;
    va_start(arguments, format);
    const int written = std::vsnprintf(to, size, format, arguments);
    va_end(arguments);
    return written;
}

START_NAMESPACE_DISTRHO

class SlowText : public Probe {
public:
    SlowText() : Probe(settings()) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override { pass(inputs, outputs, frames); }

private:
    static std::vector<Setting> settings()
    {
        std::vector<Setting> made;
        for (int number = 1; number <= COUNT; ++number) {
            const std::string own = std::to_string(number);
            made.push_back({ "Level " + own, "level_" + own, "dB", 0.0f, -24.0f, 12.0f });
        }
        return made;
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(SlowText)
