// What every test plugin shares: who it is, and a row of settings that hold what they are given.
// The names in capitals come from DistrhoPluginInfo.h, which tests/plugin_builder.py writes for each build.
#pragma once

#include "DistrhoPlugin.hpp"

#include <cmath>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

START_NAMESPACE_DISTRHO

struct Setting {
    std::string name;
    std::string symbol;
    std::string unit;
    float initial;
    float least;
    float most;
    uint32_t hints = kParameterIsAutomatable;
    std::vector<std::string> texts = {};  // one for each whole number from `least` on
};

class Probe : public Plugin {
public:
    explicit Probe(std::vector<Setting> settings)
        : Plugin(static_cast<uint32_t>(settings.size()), 0, 0), declared(std::move(settings))
    {
        for (const Setting& setting : declared)
            values.push_back(setting.initial);
    }

protected:
    const char* getName() const override { return DISTRHO_PLUGIN_NAME; }
    const char* getLabel() const override { return "probe"; }
    const char* getMaker() const override { return PROBE_MAKER; }
    const char* getLicense() const override { return "GPL-3.0-or-later"; }
    uint32_t getVersion() const override { return d_version(1, 0, 0); }
    int64_t getUniqueId() const override { return PROBE_UNIQUE_ID; }

    void initParameter(uint32_t index, Parameter& parameter) override
    {
        const Setting& setting = declared[index];
        parameter.name = setting.name.c_str();
        parameter.symbol = setting.symbol.c_str();
        parameter.unit = setting.unit.c_str();
        parameter.hints = setting.hints;
        parameter.ranges = ParameterRanges(setting.initial, setting.least, setting.most);
        if (setting.texts.empty())
            return;
        const std::size_t count = setting.texts.size();
        parameter.enumValues.count = static_cast<uint8_t>(count);
        parameter.enumValues.restrictedMode = true;
        parameter.enumValues.values = new ParameterEnumerationValue[count];
        for (std::size_t i = 0; i < count; ++i) {
            const float value = setting.least + static_cast<float>(i);
            parameter.enumValues.values[i] = { value, setting.texts[i].c_str() };
        }
    }

    float getParameterValue(uint32_t index) const override { return values[index]; }
    void setParameterValue(uint32_t index, float value) override { values[index] = value; }

    static double amplitude(double level_db) { return std::pow(10.0, level_db / 20.0); }

    static void pass(const float** inputs, float** outputs, uint32_t frames, double factor = 1.0)
    {
        for (int channel = 0; channel < DISTRHO_PLUGIN_NUM_INPUTS; ++channel)
            for (uint32_t frame = 0; frame < frames; ++frame)
                outputs[channel][frame] = static_cast<float>(factor * inputs[channel][frame]);
    }

    const std::vector<Setting> declared;
    std::vector<float> values;
};

END_NAMESPACE_DISTRHO

// Ends each plugin's file: the framework asks for its plugin by this function.
#define PROBE_IS(CLASS) \
    START_NAMESPACE_DISTRHO \
    Plugin* createPlugin() { return new CLASS(); } \
    END_NAMESPACE_DISTRHO
