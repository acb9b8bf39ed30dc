using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using SawEdge.Core.Cutting;

namespace SawEdge.Gateway.Api;

/// <summary>The job list as it was read last.</summary>
internal static class JobEndpoints
{
    /// <summary>Maps them.</summary>
    public static void Map(RouteGroupBuilder api, ApiContext context) =>
        api.MapGet("/jobs", (HttpRequest request) =>
            new QueryReader(request.Query, context).Problem() ?? ApiAnswer.Past(new { Items = context.Jobs().Jobs.OrderBy(job => job.JobId, StringComparer.Ordinal).Select(JobView.Of) }));
}

/// <summary>A job; null where the list does not say. <c>written</c> is what stood in its row, column to text.</summary>
internal sealed record JobView(
    string Job, string Material, string Section, double HeightMm, double AreaCm2, double? PartLengthMm, int? Pieces, string? Blade,
    double? StandardCutTimeS, double? StandardRateCm2Min, double? HardnessHb, Coolant Coolant, IReadOnlyDictionary<string, string>? Written)
{
    /// <summary>The view of a job.</summary>
    public static JobView Of(CutJob job) => new(
        job.JobId, job.Material.Name, job.Section.Notation, job.Section.HeightMm, job.Section.AreaCm2, job.PartLengthMm, job.Pieces, Known.Text(job.Blade?.TypeName),
        job.Standard?.CutTimeS, job.Standard?.RateCm2Min, job.HardnessHb, job.Coolant, job.Written);
}
