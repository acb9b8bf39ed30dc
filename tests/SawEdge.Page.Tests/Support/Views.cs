using System.Net.Http.Json;
using System.Text.Json;

namespace SawEdge.Page.Tests.Support;

/// <summary>A view of the page.</summary>
/// <param name="Name">Its name.</param>
/// <param name="Route">The fragment of its address.</param>
/// <param name="Texts">What it must say on the history of the tests, whatever the size of the screen.</param>
internal sealed record View(string Name, string Route, params string[] Texts);

/// <summary>All views.</summary>
internal static class Views
{
    /// <summary>All views on the history of the plant, a cut among them that the load score found unusual.</summary>
    public static async Task<IReadOnlyList<View>> AllAsync(PageFixture fixture)
    {
        var cut = await UnusualCutAsync(fixture);
        return
        [
            new("bay", "#/bay", "saw-1", "saw-2", "saw-3", "kW"),
            new("shift", "#/shift", "saw-1", "early"),
            new("oee", "#/oee", "saw-1", "saw-2"),
            new("cut", $"#/cut/{Uri.EscapeDataString(cut.Id)}", cut.Saw, "mm"),
            new("cuts", "#/cuts", "saw-1"),
            new("blades", "#/blades", "saw-1", "m²"),
            new("blade", "#/blades/saw-2", "saw-2", "left"),
            new("alarms", "#/alarms", "saw-3"),
            new("display", "#/display"),
        ];
    }

    /// <summary>A cut that is unusual, with the profile along its depth.</summary>
    public static async Task<(string Id, string Saw)> UnusualCutAsync(PageFixture fixture)
    {
        var answer = await AskAsync(fixture, "cycles?outcome=completed&minScore=3&limit=1");
        var cut = answer.GetProperty("items")[0];
        return (cut.GetProperty("cycleId").GetString()!, cut.GetProperty("saw").GetString()!);
    }

    /// <summary>Asks the API.</summary>
    public static async Task<JsonElement> AskAsync(PageFixture fixture, string path)
    {
        using var client = new HttpClient { BaseAddress = new Uri((await fixture.PlantAsync()).Address, "api/v1/") };
        var answer = await client.GetAsync(path);
        Assert.True(answer.IsSuccessStatusCode, $"{path}: {await answer.Content.ReadAsStringAsync()}");
        return await answer.Content.ReadFromJsonAsync<JsonElement>();
    }
}
