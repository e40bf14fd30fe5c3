// COUNT settings that do nothing: the clock finds out a host that asks each of them for a thousand texts.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

static std::vector<Setting> numbered_settings()
{
    std::vector<Setting> settings;
    for (int number = 1; number <= COUNT; ++number) {
        const std::string text = std::to_string(number);
        settings.push_back({ "Setting " + text, "setting_" + text, "", 0.0f, 0.0f, 10.0f });
    }
    return settings;
}

class ManySettings : public Probe {
public:
    ManySettings() : Probe(numbered_settings()) {}

protected:
    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        pass(inputs, outputs, frames);
    }
};

END_NAMESPACE_DISTRHO
PROBE_IS(ManySettings)
